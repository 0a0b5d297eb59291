"""The tables: who came, which attempts they began, what was done in each, and its marks.

An attempt has no state of its own: its events, in the order of their numbers, are all there
is. Times are kept in UTC.
"""

from datetime import UTC, datetime

from sqlalchemy import (
    Column,
    DateTime,
    Dialect,
    ForeignKey,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
)
from sqlalchemy.types import TypeDecorator

# A constraint without a name cannot be changed later on SQLite.
NAMES = {
    "ix": "ix_%(column_0_label)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}


class UtcTime(TypeDecorator[datetime]):
    """A moment, in UTC. SQLite forgets the zone, so it is set again when read."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        """Return the moment in UTC; a time without a zone is refused."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"times must have a zone, got {value!r}")
        return value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        """Return the moment with its zone."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


metadata = MetaData(naming_convention=NAMES)

session = Table(
    "session",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("token_hash", String(64), nullable=False, unique=True),  # SHA-256 in hex
    Column("created_at", UtcTime, nullable=False),
    Column("seen_at", UtcTime, nullable=False),
    Column("forgotten_at", UtcTime, nullable=True),
)

attempt = Table(
    "attempt",
    metadata,
    Column("id", String(22), primary_key=True),  # 128 random bits, safe in an address
    Column("session_id", ForeignKey("session.id"), nullable=False),
    Column("case_id", Text, nullable=False),
    Column("mode", Text, nullable=False),
    Column("seed", LargeBinary(16), nullable=False),
    Column("client_key", Text, nullable=False),
    Column("created_at", UtcTime, nullable=False),
    UniqueConstraint("session_id", "client_key"),
)

event = Table(
    "event",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("attempt_id", ForeignKey("attempt.id"), nullable=False),
    Column("number", Integer, nullable=False),
    Column("client_key", Text, nullable=False),
    Column("tab_id", Text, nullable=False),
    Column("at", UtcTime, nullable=False),
    Column("kind", Text, nullable=False),
    Column("body", Text, nullable=False),  # JSON
    Column("engine_version", Text, nullable=False),
    UniqueConstraint("attempt_id", "number"),
    UniqueConstraint("attempt_id", "client_key"),
)

truth = Table(
    "truth",
    metadata,
    Column("case_digest", Text, primary_key=True),
    Column("side", String(1), primary_key=True),
    Column("case_id", Text, nullable=False),
    Column("body", Text, nullable=False),  # JSON
)

mark = Table(
    "mark",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("attempt_id", ForeignKey("attempt.id"), nullable=False),
    Column("rubric_version", Text, nullable=False),
    Column("engine_version", Text, nullable=False),
    Column("case_digest", Text, nullable=False),
    Column("at", UtcTime, nullable=False),
    Column("body", Text, nullable=False),  # JSON
)

circuit = Table(
    "circuit",
    metadata,
    Column("id", String(22), primary_key=True),  # 128 random bits, safe in an address
    Column("session_id", ForeignKey("session.id"), nullable=False),
    Column("client_key", Text, nullable=False),
    Column("plan", Text, nullable=False),  # JSON
    Column("created_at", UtcTime, nullable=False),
    Column("over_at", UtcTime),  # set once, when nothing in it is hidden any more
    UniqueConstraint("session_id", "client_key"),
)

station = Table(
    "station",
    metadata,
    Column("circuit_id", ForeignKey("circuit.id"), primary_key=True),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("case_id", Text, nullable=False),
    Column("seed", LargeBinary(16), nullable=False),
    Column("began_at", UtcTime),
    Column("attempt_id", ForeignKey("attempt.id")),
)
