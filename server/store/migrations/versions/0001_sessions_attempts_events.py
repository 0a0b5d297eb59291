"""Sessions, attempts, their events, and the end points found once for each case."""

import sqlalchemy as sa
from alembic import op

from server.store.schema import UtcTime

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

# By dialect: the log is only ever added to, whoever holds the connection.
APPEND_ONLY = {
    "sqlite": tuple(
        f"CREATE TRIGGER event_refuses_{deed.lower()} BEFORE {deed} ON event "
        "BEGIN SELECT RAISE(ABORT, 'events are never changed'); END"
        for deed in ("UPDATE", "DELETE")
    ),
}


def upgrade() -> None:
    """Make the first tables."""
    op.create_table(
        "session",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("token_hash", sa.String(64), nullable=False),
        sa.Column("created_at", UtcTime(), nullable=False),
        sa.Column("seen_at", UtcTime(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_session")),
        sa.UniqueConstraint("token_hash", name=op.f("uq_session_token_hash")),
    )
    make_attempts()
    make_events()
    op.create_table(
        "truth",
        sa.Column("case_digest", sa.Text(), nullable=False),
        sa.Column("side", sa.String(1), nullable=False),
        sa.Column("case_id", sa.Text(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("case_digest", "side", name=op.f("pk_truth")),
    )


def make_attempts() -> None:
    """Make the table of attempts."""
    op.create_table(
        "attempt",
        sa.Column("id", sa.String(22), nullable=False),
        sa.Column("session_id", sa.Integer(), nullable=False),
        sa.Column("case_id", sa.Text(), nullable=False),
        sa.Column("mode", sa.Text(), nullable=False),
        sa.Column("seed", sa.LargeBinary(16), nullable=False),
        sa.Column("client_key", sa.Text(), nullable=False),
        sa.Column("created_at", UtcTime(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_attempt")),
        sa.ForeignKeyConstraint(
            ["session_id"], ["session.id"], name=op.f("fk_attempt_session_id_session")
        ),
        sa.UniqueConstraint(
            "session_id", "client_key", name=op.f("uq_attempt_session_id_client_key")
        ),
    )


def make_events() -> None:
    """Make the log of events, which refuses changes."""
    op.create_table(
        "event",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("attempt_id", sa.String(22), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("client_key", sa.Text(), nullable=False),
        sa.Column("tab_id", sa.Text(), nullable=False),
        sa.Column("at", UtcTime(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.Column("engine_version", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_event")),
        sa.ForeignKeyConstraint(
            ["attempt_id"], ["attempt.id"], name=op.f("fk_event_attempt_id_attempt")
        ),
        sa.UniqueConstraint("attempt_id", "number", name=op.f("uq_event_attempt_id_number")),
        sa.UniqueConstraint(
            "attempt_id", "client_key", name=op.f("uq_event_attempt_id_client_key")
        ),
    )
    for statement in APPEND_ONLY[op.get_context().dialect.name]:
        op.execute(statement)


def downgrade() -> None:
    """Refuse: the attempts would be lost."""
    raise NotImplementedError("the first schema has nothing to go back to")
