"""Circuits of timed stations."""

import sqlalchemy as sa
from alembic import op

from server.store.schema import UtcTime

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables of circuits and their stations."""
    op.create_table(
        "circuit",
        sa.Column("id", sa.String(22), nullable=False),
        sa.Column("session_id", sa.Integer(), nullable=False),
        sa.Column("client_key", sa.Text(), nullable=False),
        sa.Column("plan", sa.Text(), nullable=False),
        sa.Column("created_at", UtcTime(), nullable=False),
        sa.Column("over_at", UtcTime(), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_circuit")),
        sa.ForeignKeyConstraint(
            ["session_id"], ["session.id"], name=op.f("fk_circuit_session_id_session")
        ),
        sa.UniqueConstraint(
            "session_id", "client_key", name=op.f("uq_circuit_session_id_client_key")
        ),
    )
    op.create_table(
        "station",
        sa.Column("circuit_id", sa.String(22), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("case_id", sa.Text(), nullable=False),
        sa.Column("seed", sa.LargeBinary(16), nullable=False),
        sa.Column("began_at", UtcTime(), nullable=True),
        sa.Column("attempt_id", sa.String(22), nullable=True),
        sa.PrimaryKeyConstraint("circuit_id", "number", name=op.f("pk_station")),
        sa.ForeignKeyConstraint(
            ["circuit_id"], ["circuit.id"], name=op.f("fk_station_circuit_id_circuit")
        ),
        sa.ForeignKeyConstraint(
            ["attempt_id"], ["attempt.id"], name=op.f("fk_station_attempt_id_attempt")
        ),
    )


def downgrade() -> None:
    """Refuse: the circuits would be lost."""
    raise NotImplementedError("circuits are never thrown away")
