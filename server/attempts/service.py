"""The service behind every page of an attempt."""

import secrets
import threading
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from optics import ENGINE_VERSION
from optics.light.lens import EyeSide
from optics.patient.questions import READING
from optics.patient.replies import RowReply, read_rows
from optics.sight.canvas import canvas_on
from optics.sight.targets import LETTERS_A_ROW
from server import moment
from server.attempts import acts
from server.attempts.acts import Act, Done, guarded, plainly
from server.attempts.chance import fresh_letters
from server.attempts.circuit import refuse_late
from server.attempts.fogged import fogged_seconds
from server.attempts.foresight import Foresight
from server.attempts.own_eyes import EXAM, case_for
from server.attempts.questions import Moment, answer_to, check_fits
from server.attempts.readings import rows_from
from server.attempts.sight import view_of, warm_up
from server.attempts.state import State, WallState, as_copy, shown_lines, state_of, state_since
from server.attempts.talk import HISTORY, reading_reply
from server.attempts.why import why_of_answer, why_of_reading
from server.attempts.words import Put, answered, asked_words
from server.casebook import Case, Casebook
from server.errors import AttemptClosed, NotFound, Refused, StaleTab
from server.marking.mark import Mark, marked
from server.marking.rubric import Rubric
from server.marking.truth import Truth, find_truth
from server.store.circuits import CircuitStore
from server.store.log import AttemptRow, Event, MarkRow, NewEvent, Store
from server.store.recent import Recent

SEED_BYTES = 16
MODES = ("teaching", "practice")
TRIES = 8
STATES_KNOWN = 256


@dataclass(frozen=True, slots=True, kw_only=True)
class Press:
    """Where a post comes from: its own key, its tab, the last event the tab had seen; and when."""

    client_key: str
    tab_id: str
    seen_number: int
    arrived: datetime = field(default_factory=lambda: _now())


@dataclass(frozen=True, slots=True, kw_only=True)
class Attempt:
    """An attempt as it stands. The case and the row hold what must not be shown.

    ``closed`` says that it takes no more acts, ``revealed`` that nothing of it is hidden any
    more: an exam stays hidden until its circuit is over.
    """

    row: AttemptRow = field(repr=False)
    case: Case = field(repr=False)
    state: State
    events: tuple[Event, ...] = field(repr=False)
    closed: bool = False
    revealed: bool = False


class _MovedError(Exception):
    """Another event came between the answer's computation and its writing."""


class Attempts:
    """Begin attempts, act in them, ask, look; everything is stored before it is answered."""

    def __init__(self, store: Store, casebook: Casebook) -> None:
        self._store = store
        self.casebook = casebook
        self._circuits = CircuitStore(store)
        self._states = Recent[State](STATES_KNOWN)
        self._searching = threading.Lock()
        self._foresight = Foresight()
        self._ahead = ThreadPoolExecutor(max_workers=1, thread_name_prefix="end-point")
        self._ahead.submit(warm_up)

    def close(self) -> None:
        """Let go of what is still being looked for."""
        self._ahead.shutdown(cancel_futures=True)
        self._foresight.close()

    def start(
        self, session_id: int, public_id: str, mode: str, client_key: str, *, guided: bool = False
    ) -> str:
        """Begin an attempt at a case and return its id; the same key gets the same attempt."""
        case = self.casebook.named(public_id)
        if case is None:
            raise NotFound
        if mode not in MODES:
            raise Refused(f"The mode must be one of {', '.join(MODES)}, got {mode[:40]!r}", "mode")
        row = self._store.start_attempt(
            session_id,
            case.stem,
            mode,
            secrets.token_bytes(SEED_BYTES),
            f"{client_key}.{public_id}.{mode}",
            _now(),
        )
        lines = shown_lines(WallState())
        letters = fresh_letters(row.seed, 1, lines, LETTERS_A_ROW)
        body = {"mode": mode, "letters": letters, "guided": guided}
        press = Press(client_key="begin", tab_id="", seen_number=0)
        self._append(row, press, lambda _: _event(Done(kind="begin", body=body)))
        return row.id

    def go_back(self, session_id: int, attempt_id: str, number: int, client_key: str) -> str:
        """Copy a finished attempt as it was at an event and return the copy's id.

        A copy is in teaching mode, has a chance of its own and never counts.
        """
        attempt = self.open(session_id, attempt_id)
        events = attempt.events[:number]
        if not attempt.revealed or not 1 <= number < attempt.state.number:
            raise NotFound
        row = replace(attempt.row, mode="teaching", seed=secrets.token_bytes(SEED_BYTES))
        copied = (as_copy(events[0], attempt.row.id), *events[1:])
        return self._store.copy_attempt(row, copied, f"{client_key}.{number}", _now()).id

    def forget(self, session_id: int) -> None:
        """Delete all that is kept of a session."""
        self._store.forget(session_id, _now())

    def open(self, session_id: int, attempt_id: str) -> Attempt:
        """Return an attempt of this session.

        Raises
        ------
        NotFound
            If there is none such, or its case is no longer in the book.
        """
        row = self._row(session_id, attempt_id)
        return self._attempt(row, self._store.events(row.id))

    def of_session(self, session_id: int, *, exams: bool = False) -> list[Attempt]:
        """Return the session's attempts, newest first, those of lost cases left out.

        Exams come if they are asked for, and of those only what is no longer hidden.
        """
        known = [
            self._attempt(row, events)
            for row in self._store.attempts_of(session_id)
            if (events := self._store.events(row.id))
            and (exams if row.mode == EXAM else row.case_id in self.casebook.cases)
        ]
        return [one for one in known if one.revealed or one.row.mode != EXAM]

    def act(self, session_id: int, attempt_id: str, press: Press, act: Act) -> Attempt:
        """Apply an act to the present state and store it."""
        row = self._row(session_id, attempt_id)

        def compose(events: tuple[Event, ...]) -> NewEvent:
            return _event(guarded(act)(self._state(row.id, events), row.seed))

        return self._append(row, press, compose)

    def write(
        self, session_id: int, attempt_id: str, press: Press, fields: Mapping[str, str]
    ) -> Attempt:
        """Write on the card. The end is near then, so the end points are looked for ahead."""
        attempt = self.act(session_id, attempt_id, press, acts.record(fields))
        for side in EyeSide if attempt.state.station is None else ():
            if self._kept_truth(attempt.case, side) is None:
                self._ahead.submit(self.truth, attempt.case, side)
        return attempt

    def ask(
        self,
        session_id: int,
        attempt_id: str,
        press: Press,
        put: Put,
    ) -> Attempt:
        """Ask a question: chances computed outside the transaction, one reply drawn inside."""
        row = self._row(session_id, attempt_id)
        for _ in range(TRIES):
            attempt = self._attempt(row, self._store.events(row.id))
            if any(event.client_key == press.client_key for event in attempt.events):
                return attempt  # asked before: the answer stands in the log
            refuse_late(attempt.state, press.arrived)
            if attempt.state.finished:
                raise AttemptClosed
            check_fits(attempt.state, put.question)
            self._foresight.await_sight(row.id)
            compose = self._answering(attempt, put)
            try:
                return self._append(row, press, compose)
            except _MovedError:
                continue
        raise StaleTab

    def ask_history(self, session_id: int, attempt_id: str, press: Press, topic: str) -> Attempt:
        """Ask one question of the history; the case has the answer."""
        if topic not in HISTORY:
            raise Refused(f"There is no question {topic[:40]!r} of the history", "question")
        body = {
            "question": f"history-{topic}",
            "asked": HISTORY[topic],
            "reply": self.open(session_id, attempt_id).case.history[topic],
            "rows": [],
        }
        return self.act(session_id, attempt_id, press, plainly("ask", body))

    def _answering(self, attempt: Attempt, put: Put) -> Callable[[tuple[Event, ...]], NewEvent]:
        state, moment, question = attempt.state, _moment(attempt), put.question
        said = _reading(attempt, moment, put.start_logmar) if question in READING else None
        answer = None if said else answer_to(moment, question, put.manner)
        why = "" if answer is None else why_of_answer(moment, question, answer)
        number = state.number + 1

        def compose(events: tuple[Event, ...]) -> NewEvent:
            if (events[-1].number if events else 0) != state.number:
                raise _MovedError
            body = {"question": question.value, "asked": asked_words(put)}
            if answer is None:
                return _event(Done(kind="ask", body=body | (said or {})))
            facts = answered(attempt.row.seed, number, question, answer)
            body |= facts | {"manner": put.manner.value, "why": why, "rows": []}
            return _event(Done(kind="ask", body=body))

        return compose

    def picture(
        self, session_id: int, attempt_id: str, number: int, side: str, part: int = 0
    ) -> Any:
        """Return the picture an eye forms at an event's state, of the wall or one part of it."""
        attempt = self.open(session_id, attempt_id)
        if not 1 <= number <= attempt.state.number:
            raise NotFound
        state = state_of(attempt.events[:number])
        if not attempt.state.picture_open and not attempt.revealed:
            raise NotFound
        scene = state.wall.scene
        view = view_of(attempt.case, state, fogged_s=_fogged_s(attempt, number))
        return view.eye(EyeSide(side)).picture(scene, canvas_on(scene, part))

    def accommodation(self, session_id: int, attempt_id: str, number: int) -> float:
        """Return what the eye adds at an event's state, in D; teaching mode only."""
        attempt = self.open(session_id, attempt_id)
        if attempt.state.mode != "teaching" or not 1 <= number <= attempt.state.number:
            raise NotFound
        state = state_of(attempt.events[:number])
        fogged_s = _fogged_s(attempt, number)
        return view_of(attempt.case, state, fogged_s=fogged_s).accommodation_d

    def truths(self, case: Case) -> dict[EyeSide, Truth]:
        """Return the end points of both eyes of a case."""
        return {side: self.truth(case, side) for side in EyeSide}

    def truth(self, case: Case, side: EyeSide) -> Truth:
        """Return the end point of a case's eye, found once and kept."""
        kept = self._kept_truth(case, side)
        if kept is not None:
            return kept
        with self._searching:  # one search at a time; who waited finds it kept
            kept = self._kept_truth(case, side)
            if kept is not None:
                return kept
            found = find_truth(case, side)
            self._store.keep_truth(
                case.stem, case.digest + ENGINE_VERSION, side.value, found.as_body()
            )
            return found

    def mark(self, attempt: Attempt, rubric: Rubric | None = None) -> Mark:
        """Return the mark of a finished attempt, by the case's rubric or another; made once.

        Another version of rubric, engine or case adds a mark and leaves the earlier ones.

        Raises
        ------
        Refused
            If the attempt has not ended.
        """
        if not attempt.state.finished:
            raise Refused("An attempt is marked when it has ended", "attempt")
        rubric = rubric or attempt.case.rubric
        by = (rubric.version, ENGINE_VERSION, attempt.case.digest)
        for kept in self._store.marks_of(attempt.row.id):
            if by == (kept.rubric_version, kept.engine_version, kept.case_digest):
                return Mark.from_body(kept.body)
        found = marked(attempt.case, attempt.events, self.truths(attempt.case), rubric)
        added = MarkRow(
            rubric_version=rubric.version,
            engine_version=ENGINE_VERSION,
            case_digest=attempt.case.digest,
            at=_now(),
            body=found.as_body(),
        )
        self._store.add_mark(attempt.row.id, added)
        return found

    def _kept_truth(self, case: Case, side: EyeSide) -> Truth | None:
        kept = self._store.kept_truth(case.digest + ENGINE_VERSION, side.value)
        return None if kept is None else Truth.from_body(kept)

    def _row(self, session_id: int, attempt_id: str) -> AttemptRow:
        row = self._store.find_attempt(attempt_id, session_id)
        if row is None or (row.mode != EXAM and row.case_id not in self.casebook.cases):
            raise NotFound
        return row

    def _attempt(self, row: AttemptRow, events: tuple[Event, ...]) -> Attempt:
        state = self._state(row.id, events)
        at = state.station
        return Attempt(
            row=row,
            case=case_for(self.casebook, row, events),
            state=state,
            events=events,
            closed=state.finished or (at is not None and _now() >= at.bell),
            revealed=state.finished if at is None else self._circuits.is_over(at.circuit_id),
        )

    def _state(self, attempt_id: str, events: tuple[Event, ...]) -> State:
        """Return the state after events, folding only what came since it was last asked for."""
        known = self._states.get(attempt_id)
        if known is None or known.number > len(events):
            return state_of(events)
        return state_since(known, events)

    def _append(
        self, row: AttemptRow, press: Press, compose: Callable[[tuple[Event, ...]], NewEvent]
    ) -> Attempt:
        def in_time(events: tuple[Event, ...]) -> NewEvent:
            refuse_late(self._state(row.id, events), press.arrived)
            return compose(events)

        try:
            appended = self._store.append(
                row.id,
                client_key=press.client_key,
                tab_id=press.tab_id,
                seen_number=press.seen_number,
                at=press.arrived,
                compose=in_time,
            )
        except StaleTab:
            fresh = self._attempt(row, self._store.events(row.id))
            refuse_late(fresh.state, press.arrived)
            raise StaleTab(fresh) from None
        attempt = self._attempt(row, appended.events)
        self._states.keep(row.id, attempt.state)
        self.foresee(attempt)
        return attempt

    def foresee(self, attempt: Attempt) -> None:
        """Work out in an exam what may be asked next, so that no answer takes its own time."""
        if attempt.state.station is not None:
            self._foresight.see(attempt.row.id, lambda: _moment(attempt))


def _reading(attempt: Attempt, moment: Moment, start_logmar: float | None) -> dict[str, Any]:
    """Return what is said to a reading question, drawn from the noise stream of its event."""
    state, view = attempt.state, moment.now
    rows = rows_from(state.wall, start_logmar)
    replies: tuple[RowReply, ...] = read_rows(view, rows, moment.owned_logmar)
    start = {} if start_logmar is None else {"start": start_logmar}
    said = reading_reply(replies, view.better is None, attempt.row.seed, state.number + 1)
    why = why_of_reading(view, replies)
    return start | {"reply": said.words, "rows": said.rows, "why": why}


def _moment(attempt: Attempt) -> Moment:
    return Moment(case=attempt.case, state=attempt.state, fogged_s=_fogged_s(attempt))


def _fogged_s(attempt: Attempt, number: int | None = None) -> float:
    """Return how long the eyes have been under fog, at an event or now."""
    return fogged_seconds(attempt.case, attempt.events[:number])


def _event(done: Done) -> NewEvent:
    return NewEvent(kind=done.kind, body=done.body, engine_version=ENGINE_VERSION)


def _now() -> datetime:
    return moment.now()
