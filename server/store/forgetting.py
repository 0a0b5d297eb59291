"""Letting go of a visitor: the one way in which rows of the log leave it."""

from datetime import datetime

from sqlalchemy import Connection, delete, select, update

from server.store.schema import attempt, circuit, event, mark, session, station


def forget(connection: Connection, session_id: int, now: datetime) -> tuple[str, ...]:
    """Delete a session with all that belongs to it and return the ids of its attempts."""
    own = select(attempt.c.id).where(attempt.c.session_id == session_id)
    ids = tuple(connection.execute(own).scalars())
    circuits = select(circuit.c.id).where(circuit.c.session_id == session_id)
    connection.execute(delete(station).where(station.c.circuit_id.in_(circuits)))
    connection.execute(delete(circuit).where(circuit.c.session_id == session_id))
    connection.execute(update(session).where(session.c.id == session_id).values(forgotten_at=now))
    for table in (event, mark):
        connection.execute(delete(table).where(table.c.attempt_id.in_(own)))
    connection.execute(delete(attempt).where(attempt.c.session_id == session_id))
    connection.execute(delete(session).where(session.c.id == session_id))
    return ids
