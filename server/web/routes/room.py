"""The room: one route an act; each answers with the room as it then stands."""

import secrets
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response

from server.attempts import acts
from server.attempts.service import Attempt
from server.web.contexts import Adds, Room, RoomPage, Why
from server.web.deps import NotationDep, ServiceDep
from server.web.forms import (
    AskForm,
    FitForm,
    HistoryForm,
    MoveForm,
    PlaceForm,
    PressForm,
    StepForm,
    TurnForm,
    WallForm,
)
from server.web.notation import Notation
from server.web.present import FIRST_AT, parse_at, room
from server.web.present_card import card
from server.web.present_room import adds_words, room_page, why_words
from server.web.render import acted, go_to, page, wants_fragment
from server.web.sessions import SessionDep

router = APIRouter(prefix="/attempts/{attempt_id}")


def _fragment(attempt: Attempt, form: PressForm, notation: Notation) -> Room:
    return room(attempt, form.at, form.kind, notation, secrets.token_hex(4))


@router.get("")
def show_room(
    request: Request,
    attempt_id: str,
    session: SessionDep,
    service: ServiceDep,
    notation: NotationDep,
    at: str = FIRST_AT,
    kind: str = "sphere",
) -> Response:
    """Return the whole page of an attempt; a finished one goes to its review."""
    attempt = service.open(session, attempt_id)
    if attempt.state.finished:
        return go_to(request, f"/attempts/{attempt_id}/review")
    parse_at(at)
    seen = room(attempt, at, kind, notation, secrets.token_hex(4))
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
) -> Response:
    """Return the room with another place selected or another drawer open."""
    attempt = service.open(session, attempt_id)
    parse_at(at)
    if attempt.state.finished or not wants_fragment(request):
        return go_to(request, f"/attempts/{attempt_id}")
    return page(room(attempt, at, kind, notation, secrets.token_hex(4)))


@router.post("/place")
def place(
    request: Request,
    attempt_id: str,
    session: SessionDep,
    service: ServiceDep,
    notation: NotationDep,
    form: Annotated[PlaceForm, Form()],
) -> Response:
    """Put a lens from the case into the selected place."""
    attempt = service.act(session, attempt_id, form.press(), acts.place(form.spot(), form.code))
    return acted(request, _fragment(attempt, form, notation), f"/attempts/{attempt_id}")


@router.post("/take")
def take(
    request: Request,
    attempt_id: str,
    session: SessionDep,
    service: ServiceDep,
    notation: NotationDep,
    form: Annotated[PressForm, Form()],
) -> Response:
    """Take out the selected lens."""
    attempt = service.act(session, attempt_id, form.press(), acts.take(form.spot()))
    return acted(request, _fragment(attempt, form, notation), f"/attempts/{attempt_id}")


@router.post("/step")
def step(
    request: Request,
    attempt_id: str,
    session: SessionDep,
    service: ServiceDep,
    notation: NotationDep,
    form: Annotated[StepForm, Form()],
) -> Response:
    """Change the selected power by one step of the set."""
    attempt = service.act(
        session, attempt_id, form.press(), acts.step(form.spot(), form.step == "plus")
    )
    return acted(request, _fragment(attempt, form, notation), f"/attempts/{attempt_id}")


@router.post("/turn")
def turn(
    request: Request,
    attempt_id: str,
    session: SessionDep,
    service: ServiceDep,
    notation: NotationDep,
    form: Annotated[TurnForm, Form()],
) -> Response:
    """Turn the selected lens."""
    attempt = service.act(
        session, attempt_id, form.press(), acts.turn(form.spot(), form.by, form.to)
    )
    return acted(request, _fragment(attempt, form, notation), f"/attempts/{attempt_id}")


@router.post("/move")
def move(
    request: Request,
    attempt_id: str,
    session: SessionDep,
    service: ServiceDep,
    notation: NotationDep,
    form: Annotated[MoveForm, Form()],
) -> Response:
    """Move the selected lens to another place."""
    attempt = service.act(
        session, attempt_id, form.press(), acts.move(form.spot(), parse_at(form.to))
    )
    return acted(request, _fragment(attempt, form, notation), f"/attempts/{attempt_id}")


@router.post("/wall")
def wall(
    request: Request,
    attempt_id: str,
    session: SessionDep,
    service: ServiceDep,
    notation: NotationDep,
    form: Annotated[WallForm, Form()],
) -> Response:
    """Change what hangs on the wall."""
    attempt = service.act(session, attempt_id, form.press(), acts.change_wall(**form.changes()))
    return acted(request, _fragment(attempt, form, notation), f"/attempts/{attempt_id}")


@router.post("/letters")
def letters(
    request: Request,
    attempt_id: str,
    session: SessionDep,
    service: ServiceDep,
    notation: NotationDep,
    form: Annotated[PressForm, Form()],
) -> Response:
    """Draw the letters anew."""
    attempt = service.act(session, attempt_id, form.press(), acts.new_letters())
    return acted(request, _fragment(attempt, form, notation), f"/attempts/{attempt_id}")


@router.post("/fit")
def fit(
    request: Request,
    attempt_id: str,
    session: SessionDep,
    service: ServiceDep,
    notation: NotationDep,
    form: Annotated[FitForm, Form()],
) -> Response:
    """Set how the frame sits."""
    attempt = service.act(session, attempt_id, form.press(), acts.fit(**form.changes()))
    return acted(request, _fragment(attempt, form, notation), f"/attempts/{attempt_id}")


@router.post("/undo")
def undo(
    request: Request,
    attempt_id: str,
    session: SessionDep,
    service: ServiceDep,
    notation: NotationDep,
    form: Annotated[PressForm, Form()],
) -> Response:
    """Take back the last change."""
    attempt = service.act(session, attempt_id, form.press(), acts.undo())
    return acted(request, _fragment(attempt, form, notation), f"/attempts/{attempt_id}")


@router.post("/picture")
def picture(
    request: Request,
    attempt_id: str,
    session: SessionDep,
    service: ServiceDep,
    notation: NotationDep,
    form: Annotated[PressForm, Form()],
) -> Response:
    """Open the picture of what the eye sees."""
    attempt = service.act(session, attempt_id, form.press(), acts.open_picture())
    return acted(request, _fragment(attempt, form, notation), f"/attempts/{attempt_id}")


@router.post("/dismiss")
def dismiss(
    request: Request,
    attempt_id: str,
    session: SessionDep,
    service: ServiceDep,
    notation: NotationDep,
    form: Annotated[PressForm, Form()],
) -> Response:
    """Put the first patient's guidance away."""
    attempt = service.act(session, attempt_id, form.press(), acts.dismiss())
    return acted(request, _fragment(attempt, form, notation), f"/attempts/{attempt_id}")


@router.post("/ask")
def ask(
    request: Request,
    attempt_id: str,
    session: SessionDep,
    service: ServiceDep,
    notation: NotationDep,
    form: Annotated[AskForm, Form()],
) -> Response:
    """Ask the patient about the wall."""
    attempt = service.ask(session, attempt_id, form.press(), form.asked())
    return acted(request, _fragment(attempt, form, notation), f"/attempts/{attempt_id}")


@router.post("/history")
def history(
    request: Request,
    attempt_id: str,
    session: SessionDep,
    service: ServiceDep,
    notation: NotationDep,
    form: Annotated[HistoryForm, Form()],
) -> Response:
    """Ask one question of the history."""
    attempt = service.ask_history(session, attempt_id, form.press(), form.topic)
    return acted(request, _fragment(attempt, form, notation), f"/attempts/{attempt_id}")


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
