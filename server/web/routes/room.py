"""The room: one route an act; each answers with the room as it then stands."""

import secrets
from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Depends, Form, Request
from fastapi.responses import Response

from server.attempts import acts, acts_hand
from server.attempts.acts import Act
from server.attempts.service import Attempt, Attempts
from server.web.arrival import leave_steadily
from server.web.contexts import Adds, RoomPage, Why
from server.web.deps import UNSAID, LookDep, MannerDep, NotationDep, ServiceDep
from server.web.forms import (
    AimForm,
    AskForm,
    FitForm,
    HistoryForm,
    HoldForm,
    MoveForm,
    PlaceForm,
    PressForm,
    ShowForm,
    StepForm,
    TurnForm,
    WallForm,
)
from server.web.notation import Notation
from server.web.present import FIRST_AT, parse_at, room
from server.web.present_card import card
from server.web.present_room import address_of, adds_words, room_page, why_words
from server.web.render import acted, go_to, page, wants_fragment
from server.web.sessions import SessionDep

router = APIRouter(prefix="/attempts/{attempt_id}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """Who asks for what: the request, the attempt, the session, and how its person writes."""

    request: Request
    attempt_id: str
    session: int
    service: Attempts
    notation: Notation

    def does(self, form: PressForm, act: Act) -> Response:
        """Do an act and answer with the room as it then stands."""
        press = form.press(self.request)
        return self._shown(self.service.act(self.session, self.attempt_id, press, act), form)

    def asks(self, form: AskForm) -> Response:
        """Ask the patient and answer with the room."""
        if self.service.open(self.session, self.attempt_id).state.station is not None:
            leave_steadily(self.request)
        press = form.press(self.request)
        asked = self.service.ask(self.session, self.attempt_id, press, form.put())
        return self._shown(asked, form)

    def asks_history(self, form: HistoryForm) -> Response:
        """Ask a question of the history and answer with the room."""
        press = form.press(self.request)
        return self._shown(
            self.service.ask_history(self.session, self.attempt_id, press, form.topic), form
        )

    def _shown(self, attempt: Attempt, form: PressForm) -> Response:
        nonce = secrets.token_hex(4)
        seen = room(
            attempt,
            form.at,
            form.kind,
            self.notation,
            nonce,
            look=form.looks(),
            manner=form.manner,
        )
        return acted(self.request, seen, f"/attempts/{self.attempt_id}")


def the_bench(
    request: Request,
    attempt_id: str,
    session: SessionDep,
    service: ServiceDep,
    notation: NotationDep,
) -> Bench:
    """Return the bench that a press is made at."""
    return Bench(
        request=request,
        attempt_id=attempt_id,
        session=session,
        service=service,
        notation=notation,
    )


BenchDep = Annotated[Bench, Depends(the_bench)]


@router.get("")
def show_room(
    request: Request,
    attempt_id: str,
    session: SessionDep,
    service: ServiceDep,
    notation: NotationDep,
    at: str = FIRST_AT,
    kind: str = "sphere",
    look: LookDep = 0,
) -> Response:
    """Return the whole page of an attempt; a closed one leads to its review or circuit."""
    attempt = service.open(session, attempt_id)
    if attempt.closed:
        return go_to(request, address_of(attempt))
    parse_at(at)
    seen = room(attempt, at, kind, notation, secrets.token_hex(4), look=look)
    shown: RoomPage = room_page(attempt, seen, card(attempt, notation))
    return page(shown)


@router.get("/room")
def select(
    request: Request,
    attempt_id: str,
    session: SessionDep,
    service: ServiceDep,
    notation: NotationDep,
    at: str = FIRST_AT,
    kind: str = "sphere",
    look: LookDep = 0,
    manner: MannerDep = UNSAID,
) -> Response:
    """Return the room with another place selected or another drawer open."""
    attempt = service.open(session, attempt_id)
    parse_at(at)
    if attempt.closed or not wants_fragment(request):
        return go_to(request, f"/attempts/{attempt_id}")
    return page(room(attempt, at, kind, notation, secrets.token_hex(4), look=look, manner=manner))


@router.post("/place")
def place(bench: BenchDep, form: Annotated[PlaceForm, Form()]) -> Response:
    """Put a lens from the case into the selected place."""
    return bench.does(form, acts.place(form.spot(), form.code))


@router.post("/take")
def take(bench: BenchDep, form: Annotated[PressForm, Form()]) -> Response:
    """Take out the selected lens."""
    return bench.does(form, acts.take(form.spot()))


@router.post("/step")
def step(bench: BenchDep, form: Annotated[StepForm, Form()]) -> Response:
    """Change the selected power by one step of the set."""
    return bench.does(form, acts.step(form.spot(), form.upwards, eighth=form.eighth))


@router.post("/turn")
def turn(bench: BenchDep, form: Annotated[TurnForm, Form()]) -> Response:
    """Turn the selected lens."""
    return bench.does(form, acts.turn(form.spot(), form.by, form.to))


@router.post("/move")
def move(bench: BenchDep, form: Annotated[MoveForm, Form()]) -> Response:
    """Move the selected lens to another place."""
    return bench.does(form, acts.move(form.spot(), parse_at(form.to)))


@router.post("/wall")
def wall(bench: BenchDep, form: Annotated[WallForm, Form()]) -> Response:
    """Change what hangs on the wall."""
    return bench.does(form, acts.change_wall(**form.changes()))


@router.post("/letters")
def letters(bench: BenchDep, form: Annotated[PressForm, Form()]) -> Response:
    """Draw the letters anew."""
    return bench.does(form, acts.new_letters())


@router.post("/fit")
def fit(bench: BenchDep, form: Annotated[FitForm, Form()]) -> Response:
    """Set how the frame sits."""
    return bench.does(form, acts.fit(**form.changes()))


@router.post("/undo")
def undo(bench: BenchDep, form: Annotated[PressForm, Form()]) -> Response:
    """Take back the last change."""
    return bench.does(form, acts.undo())


@router.post("/picture")
def picture(bench: BenchDep, form: Annotated[PressForm, Form()]) -> Response:
    """Open the picture of what the eye sees."""
    return bench.does(form, acts.open_picture())


@router.post("/dismiss")
def dismiss(bench: BenchDep, form: Annotated[PressForm, Form()]) -> Response:
    """Put the first patient's guidance away."""
    return bench.does(form, acts.dismiss())


@router.post("/hold")
def hold(bench: BenchDep, form: Annotated[HoldForm, Form()]) -> Response:
    """Take up a tool before the selected eye."""
    return bench.does(form, acts_hand.hold(form.spot()[0], *form.held()))


@router.post("/aim")
def aim(bench: BenchDep, form: Annotated[AimForm, Form()]) -> Response:
    """Turn the handle of the cross cylinder."""
    return bench.does(form, acts_hand.aim(form.aim, form.to, form.by))


@router.post("/show")
def show(bench: BenchDep, form: Annotated[ShowForm, Form()]) -> Response:
    """Show a face of what is held."""
    return bench.does(form, acts_hand.show(form.face))


@router.post("/swap")
def swap(bench: BenchDep, form: Annotated[PressForm, Form()]) -> Response:
    """Call the second face the first."""
    return bench.does(form, acts_hand.swap())


@router.post("/away")
def away(bench: BenchDep, form: Annotated[PressForm, Form()]) -> Response:
    """Lay away what is held."""
    return bench.does(form, acts_hand.away())


@router.post("/ask")
def ask(bench: BenchDep, form: Annotated[AskForm, Form()]) -> Response:
    """Ask the patient a question."""
    return bench.asks(form)


@router.post("/history")
def history(bench: BenchDep, form: Annotated[HistoryForm, Form()]) -> Response:
    """Ask one question of the history."""
    return bench.asks_history(form)


@router.get("/adds/{number}")
def adds(attempt_id: str, number: int, session: SessionDep, service: ServiceDep) -> Response:
    """Return what the eye adds by accommodating; teaching mode only."""
    return page(Adds(words=adds_words(service.accommodation(session, attempt_id, number))))


@router.get("/why/{number}")
def why(
    attempt_id: str,
    number: int,
    session: SessionDep,
    service: ServiceDep,
    notation: NotationDep,
) -> Response:
    """Return why the patient answered so; teaching mode or after the end only."""
    attempt = service.open(session, attempt_id)
    return page(Why(number=number, words=why_words(attempt, number, notation)))
