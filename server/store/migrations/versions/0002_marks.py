"""Marks of finished attempts: marking again adds one, none is ever changed."""

import sqlalchemy as sa
from alembic import op

from server.store.schema import UtcTime

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

APPEND_ONLY = {
    "sqlite": tuple(
        f"CREATE TRIGGER mark_refuses_{deed.lower()} BEFORE {deed} ON mark "
        "BEGIN SELECT RAISE(ABORT, 'marks are never changed'); END"
        for deed in ("UPDATE", "DELETE")
    ),
}


def upgrade() -> None:
    """Make the table of marks, which refuses changes."""
    op.create_table(
        "mark",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("attempt_id", sa.String(22), nullable=False),
        sa.Column("rubric_version", sa.Text(), nullable=False),
        sa.Column("engine_version", sa.Text(), nullable=False),
        sa.Column("case_digest", sa.Text(), nullable=False),
        sa.Column("at", UtcTime(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_mark")),
        sa.ForeignKeyConstraint(
            ["attempt_id"], ["attempt.id"], name=op.f("fk_mark_attempt_id_attempt")
        ),
    )
    for statement in APPEND_ONLY[op.get_context().dialect.name]:
        op.execute(statement)


def downgrade() -> None:
    """Refuse: the marks would be lost."""
    raise NotImplementedError("marks are never thrown away")
