"""A visitor may have everything forgotten: then, and only then, the log lets go of its rows."""

import sqlalchemy as sa
from alembic import op

from server.store.schema import UtcTime

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

FORGOTTEN = """EXISTS (
    SELECT 1 FROM attempt JOIN session ON session.id = attempt.session_id
    WHERE attempt.id = OLD.attempt_id AND session.forgotten_at IS NOT NULL
)"""


def letting_go(table: str) -> tuple[str, str]:
    """Return what makes a table let go of a forgotten session's rows, and of nothing else."""
    name = f"{table}_refuses_delete"
    refusal = f"BEGIN SELECT RAISE(ABORT, '{table}s are never changed'); END"
    return (
        f"DROP TRIGGER {name}",
        f"CREATE TRIGGER {name} BEFORE DELETE ON {table} WHEN NOT {FORGOTTEN} {refusal}",
    )


# By dialect.
LETTING_GO = {"sqlite": (*letting_go("event"), *letting_go("mark"))}


def upgrade() -> None:
    """Note when a session was forgotten; its rows can be deleted from then on."""
    op.add_column("session", sa.Column("forgotten_at", UtcTime(), nullable=True))
    for statement in LETTING_GO[op.get_context().dialect.name]:
        op.execute(statement)


def downgrade() -> None:
    """Refuse: nothing can be put back."""
    raise NotImplementedError("what was forgotten cannot be put back")
