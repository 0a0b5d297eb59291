"""The store: sessions, attempts and the append-only log of what was done in them."""

import json
import secrets
from collections.abc import Callable, Iterator, Mapping
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any, Self

from sqlalchemy import Connection, Engine, Row, insert, select, update

from server.errors import NotFound, StaleTab
from server.settings import Settings
from server.store.engine import clear_faults, open_engine, place_of
from server.store.forgetting import forget
from server.store.recent import Recent
from server.store.schema import attempt, event, mark, session, truth

Body = dict[str, Any]

ATTEMPTS_KNOWN = 256
TOUCH_EVERY = timedelta(minutes=1)  # a look at a page need not be a write
ATTEMPT_ID_BYTES = 16


@dataclass(frozen=True, slots=True, kw_only=True)
class AttemptRow:
    """One attempt at a case. The seed decides everything drawn by chance, so it is not shown."""

    id: str
    session_id: int
    case_id: str
    mode: str
    seed: bytes = field(repr=False)
    created_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class NewEvent:
    """What is about to be written: its kind, its facts and the engine that computed them."""

    kind: str
    body: Mapping[str, Any] = field(repr=False)
    engine_version: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One thing that was done in an attempt; numbers run from 1 without gaps."""

    number: int
    client_key: str
    tab_id: str
    at: datetime
    kind: str
    body: Body = field(repr=False)
    engine_version: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Appended:
    """The outcome of an append: the event, all events with it, and whether it was written now."""

    event: Event
    events: tuple[Event, ...]
    fresh: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkRow:
    """One mark of an attempt: by which rubric, engine and case it was made, and what it says."""

    rubric_version: str
    engine_version: str
    case_digest: str
    at: datetime
    body: Body = field(repr=False)


Compose = Callable[[tuple[Event, ...]], NewEvent]


class Store:
    """The only way to the database. Safe to share between threads.

    Every method is one transaction, committed when it returns. Any may raise
    `StoreUnavailable`.
    """

    def __init__(self, engine: Engine, place: str) -> None:
        self._engine = engine
        self._readers = engine.execution_options(read_only=True)
        self._place = place
        self._known = Recent[tuple[Event, ...]](ATTEMPTS_KNOWN)

    @classmethod
    def open(cls, settings: Settings) -> Self:
        """Return the store of an already migrated database."""
        return cls(open_engine(settings), place_of(settings))

    def close(self) -> None:
        """Close all connections."""
        self._engine.dispose()

    def open_session(self, token_hash: str, now: datetime) -> int:
        """Remember a new visitor and return the session's id."""
        row = {"token_hash": token_hash, "created_at": now, "seen_at": now}
        with self._writing() as connection:
            return _key(connection.execute(insert(session).values(row)).inserted_primary_key)

    def find_session(self, token_hash: str, now: datetime) -> int | None:
        """Return the session's id, or None; note the visit at most once a minute."""
        query = select(session.c.id, session.c.seen_at).where(session.c.token_hash == token_hash)
        with self._reading() as connection:
            row = connection.execute(query).one_or_none()
        if row is None:
            return None
        if now - row.seen_at >= TOUCH_EVERY:
            with self._writing() as connection:
                connection.execute(
                    update(session).where(session.c.id == row.id).values(seen_at=now)
                )
        return int(row.id)

    def forget(self, session_id: int, now: datetime) -> None:
        """Delete a visitor's session with all that belongs to it."""
        with self._writing() as connection:
            ids = forget(connection, session_id, now)
        for attempt_id in ids:
            self._known.drop(attempt_id)

    def start_attempt(
        self,
        session_id: int,
        case_id: str,
        mode: str,
        seed: bytes,
        client_key: str,
        now: datetime,
    ) -> AttemptRow:
        """Begin an attempt; the same client key gets the attempt it began before."""
        row = {
            "id": secrets.token_urlsafe(ATTEMPT_ID_BYTES),
            "session_id": session_id,
            "case_id": case_id,
            "mode": mode,
            "seed": seed,
            "client_key": client_key,
            "created_at": now,
        }
        query = select(attempt).where(
            attempt.c.session_id == session_id, attempt.c.client_key == client_key
        )
        with self._writing() as connection:
            if connection.execute(query).one_or_none() is None:
                connection.execute(insert(attempt).values(row))
            return _attempt_row(connection.execute(query).one())

    def copy_attempt(
        self, begun: AttemptRow, events: tuple[Event, ...], client_key: str, now: datetime
    ) -> AttemptRow:
        """Begin an attempt that already has events; the same client key gets it again."""
        row = {
            "id": secrets.token_urlsafe(ATTEMPT_ID_BYTES),
            "session_id": begun.session_id,
            "case_id": begun.case_id,
            "mode": begun.mode,
            "seed": begun.seed,
            "client_key": client_key,
            "created_at": now,
        }
        query = select(attempt).where(
            attempt.c.session_id == begun.session_id, attempt.c.client_key == client_key
        )
        with self._writing() as connection:
            if connection.execute(query).one_or_none() is None:
                connection.execute(insert(attempt).values(row))
                for each in events:
                    _insert(connection, str(row["id"]), each)
            return _attempt_row(connection.execute(query).one())

    def find_attempt(self, attempt_id: str, session_id: int) -> AttemptRow | None:
        """Return the attempt if it belongs to the session, else None."""
        query = select(attempt).where(
            attempt.c.id == attempt_id, attempt.c.session_id == session_id
        )
        with self._reading() as connection:
            row = connection.execute(query).one_or_none()
        return None if row is None else _attempt_row(row)

    def attempts_of(self, session_id: int) -> tuple[AttemptRow, ...]:
        """Return the session's attempts, newest first."""
        query = (
            select(attempt)
            .where(attempt.c.session_id == session_id)
            .order_by(attempt.c.created_at.desc(), attempt.c.id)
        )
        with self._reading() as connection:
            return tuple(_attempt_row(row) for row in connection.execute(query))

    def events(self, attempt_id: str) -> tuple[Event, ...]:
        """Return the attempt's events in the order of their numbers."""
        with self._reading() as connection:
            events = self._committed(connection, attempt_id)
        self._known.keep(attempt_id, events)
        return events

    def append(
        self,
        attempt_id: str,
        *,
        client_key: str,
        tab_id: str,
        seen_number: int,
        at: datetime,
        compose: Compose,
    ) -> Appended:
        """Add one event, composed from those before it, in a single transaction.

        A known client key gets its first event again. `compose` runs while other writers wait,
        so it must be quick and pure; when it raises, nothing is written.

        Raises
        ------
        StaleTab
            If another tab has written an event after `seen_number`.
        NotFound
            If there is no such attempt.
        """
        with self._writing() as connection:
            _hold_attempt(connection, attempt_id)
            events = self._committed(connection, attempt_id)
            for earlier in events:
                if earlier.client_key == client_key:
                    return Appended(event=earlier, events=events, fresh=False)
            _refuse_stale(events, tab_id, seen_number)
            added = _numbered(compose(events), events, client_key, tab_id, at)
            _insert(connection, attempt_id, added)
        self._known.keep(attempt_id, (*events, added))
        return Appended(event=added, events=(*events, added), fresh=True)

    def _committed(self, connection: Connection, attempt_id: str) -> tuple[Event, ...]:
        """Return all events: those known already, which never change, and what came since."""
        known = self._known.get(attempt_id) or ()
        return (*known, *_events_after(connection, attempt_id, len(known)))

    def kept_truth(self, case_digest: str, side: str) -> Body | None:
        """Return the search result kept for this case and eye, or None."""
        query = select(truth.c.body).where(truth.c.case_digest == case_digest, truth.c.side == side)
        with self._reading() as connection:
            body = connection.execute(query).scalar_one_or_none()
        return None if body is None else _read(body)

    def keep_truth(self, case_id: str, case_digest: str, side: str, body: Body) -> None:
        """Keep a search result; one that is already kept stays as it is."""
        row = {"case_id": case_id, "case_digest": case_digest, "side": side, "body": _written(body)}
        query = select(truth.c.side).where(truth.c.case_digest == case_digest, truth.c.side == side)
        with self._writing() as connection:
            if connection.execute(query).one_or_none() is None:
                connection.execute(insert(truth).values(row))

    def add_mark(self, attempt_id: str, added: MarkRow) -> None:
        """Add a mark of an attempt to those that it has.

        Raises
        ------
        NotFound
            If there is no such attempt.
        """
        row = {
            "attempt_id": attempt_id,
            "rubric_version": added.rubric_version,
            "engine_version": added.engine_version,
            "case_digest": added.case_digest,
            "at": added.at,
            "body": _written(added.body),
        }
        with self._writing() as connection:
            _hold_attempt(connection, attempt_id)
            connection.execute(insert(mark).values(row))

    def marks_of(self, attempt_id: str) -> tuple[MarkRow, ...]:
        """Return the marks of an attempt, oldest first."""
        query = select(mark).where(mark.c.attempt_id == attempt_id).order_by(mark.c.id)
        with self._reading() as connection:
            return tuple(
                MarkRow(
                    rubric_version=row.rubric_version,
                    engine_version=row.engine_version,
                    case_digest=row.case_digest,
                    at=row.at,
                    body=_read(row.body),
                )
                for row in connection.execute(query)
            )

    def transaction(self, *, reading: bool = False) -> AbstractContextManager[Connection]:
        """Return one transaction, for tables that a module of their own looks after."""
        return self._reading() if reading else self._writing()

    @contextmanager
    def _writing(self) -> Iterator[Connection]:
        with clear_faults(self._place), self._engine.begin() as connection:
            yield connection

    @contextmanager
    def _reading(self) -> Iterator[Connection]:
        with clear_faults(self._place), self._readers.begin() as connection:
            yield connection


def _hold_attempt(connection: Connection, attempt_id: str) -> None:
    """Keep other writers of this attempt waiting; SQLite's writers already wait for all."""
    query = select(attempt.c.id).where(attempt.c.id == attempt_id).with_for_update()
    if connection.execute(query).one_or_none() is None:
        raise NotFound("no such attempt")


def _refuse_stale(events: tuple[Event, ...], tab_id: str, seen_number: int) -> None:
    if any(each.number > seen_number and each.tab_id != tab_id for each in events):
        raise StaleTab("another tab has acted since this one last looked")


def _events_after(connection: Connection, attempt_id: str, number: int) -> tuple[Event, ...]:
    query = (
        select(event)
        .where(event.c.attempt_id == attempt_id, event.c.number > number)
        .order_by(event.c.number)
    )
    return tuple(
        Event(
            number=row.number,
            client_key=row.client_key,
            tab_id=row.tab_id,
            at=row.at,
            kind=row.kind,
            body=_read(row.body),
            engine_version=row.engine_version,
        )
        for row in connection.execute(query)
    )


def _numbered(
    new: NewEvent, events: tuple[Event, ...], client_key: str, tab_id: str, at: datetime
) -> Event:
    """Return the new event as it will be read back: numbered, in UTC, its body as JSON has it."""
    return Event(
        number=events[-1].number + 1 if events else 1,
        client_key=client_key,
        tab_id=tab_id,
        at=at.astimezone(UTC),
        kind=new.kind,
        body=_read(_written(new.body)),
        engine_version=new.engine_version,
    )


def _insert(connection: Connection, attempt_id: str, added: Event) -> None:
    connection.execute(
        insert(event).values(
            attempt_id=attempt_id,
            number=added.number,
            client_key=added.client_key,
            tab_id=added.tab_id,
            at=added.at,
            kind=added.kind,
            body=_written(added.body),
            engine_version=added.engine_version,
        )
    )


def _attempt_row(row: Row[Any]) -> AttemptRow:
    return AttemptRow(
        id=row.id,
        session_id=row.session_id,
        case_id=row.case_id,
        mode=row.mode,
        seed=row.seed,
        created_at=row.created_at,
    )


def _key(primary_key: Row[Any] | None) -> int:
    if primary_key is None:
        raise LookupError("the database gave no key for the new row")
    return int(primary_key[0])


def _written(body: Mapping[str, Any]) -> str:
    # NaN and infinity are not JSON: they are refused here, not found on reading back.
    return json.dumps(dict(body), allow_nan=False, ensure_ascii=False, separators=(",", ":"))


def _read(text: str) -> Body:
    body: Body = json.loads(text)
    return body
