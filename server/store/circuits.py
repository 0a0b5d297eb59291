"""The store's circuits: their plan, and when each of their stations was opened."""

import json
import secrets
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from sqlalchemy import Row, insert, select, update

from server.store.log import ATTEMPT_ID_BYTES, Store
from server.store.schema import circuit, station


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitRow:
    """One circuit; ``over_at`` is set when all its stations have closed and were gathered."""

    id: str
    session_id: int
    plan: dict[str, Any]
    created_at: datetime
    over_at: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class StationRow:
    """One station: whom it brings, the secret of its eyes and letters, and when it opened."""

    number: int
    case_id: str = field(repr=False)
    seed: bytes = field(repr=False)
    began_at: datetime | None = None
    attempt_id: str | None = None


class CircuitStore:
    """Circuits in the store's database; each method is one transaction."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def begin(
        self,
        session_id: int,
        plan: dict[str, Any],
        stations: Sequence[StationRow],
        client_key: str,
        now: datetime,
    ) -> CircuitRow:
        """Begin a circuit; the same client key gets the one it began before."""
        row = {
            "id": secrets.token_urlsafe(ATTEMPT_ID_BYTES),
            "session_id": session_id,
            "client_key": client_key,
            "plan": json.dumps(plan),
            "created_at": now,
        }
        query = select(circuit).where(
            circuit.c.session_id == session_id, circuit.c.client_key == client_key
        )
        with self._store.transaction() as connection:
            if connection.execute(query).one_or_none() is None:
                connection.execute(insert(circuit).values(row))
                for one in stations:
                    values = {"number": one.number, "case_id": one.case_id, "seed": one.seed}
                    connection.execute(insert(station).values(circuit_id=row["id"], **values))
            return _circuit_row(connection.execute(query).one())

    def find(self, circuit_id: str, session_id: int) -> CircuitRow | None:
        """Return a circuit if it belongs to the session, else None."""
        query = select(circuit).where(
            circuit.c.id == circuit_id, circuit.c.session_id == session_id
        )
        with self._store.transaction(reading=True) as connection:
            row = connection.execute(query).one_or_none()
        return None if row is None else _circuit_row(row)

    def of_session(self, session_id: int) -> tuple[CircuitRow, ...]:
        """Return the session's circuits, newest first."""
        query = (
            select(circuit)
            .where(circuit.c.session_id == session_id)
            .order_by(circuit.c.created_at.desc(), circuit.c.id)
        )
        with self._store.transaction(reading=True) as connection:
            return tuple(_circuit_row(row) for row in connection.execute(query))

    def stations(self, circuit_id: str) -> tuple[StationRow, ...]:
        """Return a circuit's stations in their order."""
        query = select(station).where(station.c.circuit_id == circuit_id).order_by(station.c.number)
        with self._store.transaction(reading=True) as connection:
            return tuple(_station_row(row) for row in connection.execute(query))

    def open_station(self, circuit_id: str, number: int, began_at: datetime) -> StationRow:
        """Open a station; one that is open already keeps its time."""
        this = (station.c.circuit_id == circuit_id, station.c.number == number)
        with self._store.transaction() as connection:
            connection.execute(
                update(station).where(*this, station.c.began_at.is_(None)).values(began_at=began_at)
            )
            return _station_row(connection.execute(select(station).where(*this)).one())

    def seat(self, circuit_id: str, number: int, attempt_id: str) -> None:
        """Note which attempt belongs to a station."""
        this = (station.c.circuit_id == circuit_id, station.c.number == number)
        with self._store.transaction() as connection:
            connection.execute(update(station).where(*this).values(attempt_id=attempt_id))

    def end(self, circuit_id: str, now: datetime) -> None:
        """Note that a circuit is over; when it was noted first stays."""
        this = (circuit.c.id == circuit_id, circuit.c.over_at.is_(None))
        with self._store.transaction() as connection:
            connection.execute(update(circuit).where(*this).values(over_at=now))

    def is_over(self, circuit_id: str) -> bool:
        """Return whether a circuit is over."""
        query = select(circuit.c.over_at).where(circuit.c.id == circuit_id)
        with self._store.transaction(reading=True) as connection:
            return connection.execute(query).scalar_one_or_none() is not None


def _circuit_row(row: Row[Any]) -> CircuitRow:
    return CircuitRow(
        id=row.id,
        session_id=row.session_id,
        plan=json.loads(row.plan),
        created_at=row.created_at,
        over_at=row.over_at,
    )


def _station_row(row: Row[Any]) -> StationRow:
    return StationRow(
        number=row.number,
        case_id=row.case_id,
        seed=row.seed,
        began_at=row.began_at,
        attempt_id=row.attempt_id,
    )
