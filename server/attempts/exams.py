"""Circuits of exam stations: begun, opened, closed by the clock, and reported when over."""

import random
import secrets
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import datetime

from optics import ENGINE_VERSION
from optics.light.lens import EyeSide
from optics.sight.targets import LETTERS_A_ROW
from server import moment
from server.attempts.chance import fresh_letters, stream
from server.attempts.circuit import (
    GRACE_S,
    STANDARD,
    Opened,
    Phase,
    Plan,
    Standard,
    Standing,
    closed_at,
    due,
    standing,
)
from server.attempts.own_eyes import EXAM, drawn_case, written
from server.attempts.service import SEED_BYTES, Attempt, Attempts
from server.attempts.state import WallState, shown_lines, state_of
from server.case_eyes import NAMES
from server.casebook import Case
from server.errors import AttemptClosed, NotFound, Refused
from server.store.circuits import CircuitRow, CircuitStore, StationRow
from server.store.log import Compose, Event, NewEvent, Store

NOBODY_SEES = 10_000_000  # the number of an event that every tab has seen


@dataclass(frozen=True, slots=True, kw_only=True)
class Circuit:
    """A circuit as it stands at a moment."""

    row: CircuitRow
    plan: Plan
    stations: tuple[StationRow, ...] = field(repr=False)
    standing: Standing
    left_s: int


@dataclass(frozen=True, slots=True, kw_only=True)
class EyeScore:
    """How far what was written for an eye lies from its end point; None if nothing was written."""

    name: str
    error_d: float | None
    verdict: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Score:
    """What a station is worth of 100."""

    total: float
    eyes: tuple[EyeScore, ...]
    one_thing: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StationReport:
    """One station of a circuit that is over."""

    attempt: Attempt = field(repr=False)
    score: Score
    used_s: float
    extra_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """What a circuit came to."""

    stations: tuple[StationReport, ...]
    standard: Standard
    mean: float
    passed: bool


class Exams:
    """Begin circuits, open their stations, and close what the clock has closed."""

    def __init__(self, attempts: Attempts, store: Store) -> None:
        self._attempts = attempts
        self._store = store
        self._circuits = CircuitStore(store)
        self._ahead = ThreadPoolExecutor(max_workers=1, thread_name_prefix="own-eyes")

    def close(self) -> None:
        """Let go of the eyes that are still being made."""
        self._ahead.shutdown(cancel_futures=True)

    def begin(self, session_id: int, plan: Plan, client_key: str) -> str:
        """Begin a circuit and return its id; the same key gets the same circuit.

        Raises
        ------
        Refused
            If no case of those levels states ranges to draw eyes from.
        """
        able = [
            case
            for case in self._attempts.casebook.cases.values()
            if case.level in plan.levels and case.file.range is not None
        ]
        if not able:
            levels = ", ".join(map(str, plan.levels))
            raise Refused(
                f"No patient of level {levels} has ranges that an exam can draw eyes from", "levels"
            )
        dice = stream(secrets.token_bytes(SEED_BYTES), "cases", 0)
        stations = [
            StationRow(number=number, case_id=stem, seed=secrets.token_bytes(SEED_BYTES))
            for number, stem in enumerate(_shuffled(able, plan.stations, dice), 1)
        ]
        row = self._circuits.begin(session_id, plan.as_body(), stations, client_key, moment.now())
        for one in self._circuits.stations(row.id):
            self._ahead.submit(self._drawn, one)
        return row.id

    def look(self, session_id: int, circuit_id: str) -> Circuit:
        """Return a circuit as it stands; stations that passed meanwhile are made up first.

        Raises
        ------
        NotFound
            If this session has no such circuit.
        """
        row = self._circuits.find(circuit_id, session_id)
        if row is None:
            raise NotFound
        plan, now = Plan.from_body(row.plan), moment.now()
        stations = self._circuits.stations(row.id)
        last = self._gathered(row, plan, stations, now)
        while last is not None and (began_at := due(plan, last, now)) is not None:
            self._open(row, plan, last.number + 1, began_at)
            stations = self._circuits.stations(row.id)
            last = self._gathered(row, plan, stations, now)
        stands = standing(plan, last, now)
        if stands.phase is Phase.OVER and row.over_at is None:
            for one in stations:
                self._ring(plan, one)
            self._circuits.end(row.id, now)
        return Circuit(
            row=row, plan=plan, stations=stations, standing=stands, left_s=stands.left_s(now)
        )

    def open_next(
        self, session_id: int, circuit_id: str, number: int, arrived: datetime
    ) -> Circuit:
        """Open a station if it is the one that comes next, else leave all as it is."""
        found = self.look(session_id, circuit_id)
        stands = found.standing
        if stands.phase in (Phase.READY, Phase.CHANGE) and number == stands.number + 1:
            self._open(found.row, found.plan, number, arrived)
            found = self.look(session_id, circuit_id)
        return found

    def of_session(self, session_id: int) -> tuple[CircuitRow, ...]:
        """Return the session's circuits, newest first."""
        return self._circuits.of_session(session_id)

    def report(self, found: Circuit) -> Report:
        """Return what a circuit that is over came to.

        Raises
        ------
        NotFound
            If it is not over.
        """
        if found.standing.phase is not Phase.OVER:
            raise NotFound
        stations = tuple(self._reported(found, one) for one in found.stations)
        totals = [one.score.total for one in stations]
        return Report(
            stations=stations,
            standard=STANDARD,
            mean=sum(totals) / len(totals),
            passed=STANDARD.passed(totals),
        )

    def _reported(self, found: Circuit, one: StationRow) -> StationReport:
        attempt = self._attempts.open(found.row.session_id, str(one.attempt_id))
        opened = _opened(one, attempt.events)
        used_s = (closed_at(found.plan, opened) - opened.began_at).total_seconds()
        return StationReport(
            attempt=attempt,
            score=self._score(attempt),
            used_s=used_s,
            extra_s=max(0.0, used_s - found.plan.plain_s),
        )

    def _score(self, attempt: Attempt) -> Score:
        """Return what an attempt is worth: its mark, and each eye's error."""
        mark = self._attempts.mark(attempt)
        eyes = tuple(
            EyeScore(
                name=NAMES[EyeSide(eye.side)],
                error_d=eye.error_d,
                verdict="not recorded" if eye.error_d is None else eye.named or "balanced",
            )
            for eye in mark.eyes
        )
        return Score(total=mark.total, eyes=eyes, one_thing=mark.one_thing)

    def _drawn(self, one: StationRow) -> Case:
        """Return a station's patient; one that has left the book has a substitute."""
        book = self._attempts.casebook.cases
        able = [case for case in book.values() if case.file.range is not None]
        case = book.get(one.case_id)
        if case is None or case.file.range is None:
            if not able:
                raise NotFound
            case = able[one.seed[0] % len(able)]
        return drawn_case(case, one.seed)

    def _open(self, row: CircuitRow, plan: Plan, number: int, began_at: datetime) -> None:
        """Open a station and seat its patient; done twice, it is done once."""
        one = self._circuits.open_station(row.id, number, began_at)
        if one.attempt_id is not None:
            return
        self._seat(row, plan, one)
        if number > 1:  # what the closed station is worth is looked for meanwhile
            before = self._circuits.stations(row.id)[number - 2]
            attempt = self._attempts.open(row.session_id, str(before.attempt_id))
            for side in EyeSide if attempt.state.record else ():
                self._ahead.submit(self._attempts.truth, attempt.case, side)

    def _seat(self, row: CircuitRow, plan: Plan, one: StationRow) -> None:
        began_at, case = _began(one), self._drawn(one)
        key = f"circuit.{row.id}.{one.number}"
        begun = self._store.start_attempt(row.session_id, case.stem, EXAM, one.seed, key, began_at)
        station = {"circuit_id": row.id, "number": one.number, "of": plan.stations}
        body = {
            "mode": EXAM,
            "letters": fresh_letters(one.seed, 1, shown_lines(WallState()), LETTERS_A_ROW),
            "case": written(case.file),
            "station": station | {"bell": plan.bell(began_at).isoformat()},
        }
        self._write(begun.id, "begin", began_at, lambda _: _event("begin", body))
        self._circuits.seat(row.id, one.number, begun.id)
        self._attempts.foresee(self._attempts.open(row.session_id, begun.id))

    def _gathered(
        self, row: CircuitRow, plan: Plan, stations: Sequence[StationRow], now: datetime
    ) -> Opened | None:
        """Return the last opened station; those that closed are ended and looked into ahead."""
        last = None
        for one in stations:
            if one.began_at is None:
                break
            if one.attempt_id is None:  # the server was stopped in between
                self._seat(row, plan, one)
                return self._gathered(row, plan, self._circuits.stations(row.id), now)
            events = self._store.events(one.attempt_id)
            last = _opened(one, events)
            if last.left_at is None and (now - plan.bell(last.began_at)).total_seconds() >= GRACE_S:
                self._ring(plan, one)
        return last

    def _ring(self, plan: Plan, one: StationRow) -> None:
        """End an attempt whose bell has rung, if it was not left before."""

        def compose(events: tuple[Event, ...]) -> NewEvent:
            if state_of(events).finished:
                raise AttemptClosed
            return _event("finish", {})

        with suppress(AttemptClosed):
            self._write(str(one.attempt_id), "bell", plan.bell(_began(one)), compose)

    def _write(self, attempt_id: str, key: str, at: datetime, compose: Compose) -> None:
        self._store.append(
            attempt_id,
            client_key=key,
            tab_id="",
            seen_number=NOBODY_SEES,
            at=at,
            compose=compose,
        )


def _shuffled(able: Sequence[Case], count: int, dice: random.Random) -> list[str]:
    """Return so many stems in a random order, none again before all have come."""
    stems: list[str] = []
    while len(stems) < count:
        stems += dice.sample([case.stem for case in able], len(able))
    return stems[:count]


def _began(one: StationRow) -> datetime:
    if one.began_at is None:
        raise NotFound
    return one.began_at


def _opened(one: StationRow, events: Sequence[Event]) -> Opened:
    finish = next((event for event in events if event.kind == "finish"), None)
    left_at = finish.at if finish else None
    return Opened(number=one.number, began_at=_began(one), left_at=left_at)


def _event(kind: str, body: Mapping[str, object]) -> NewEvent:
    return NewEvent(kind=kind, body=body, engine_version=ENGINE_VERSION)
