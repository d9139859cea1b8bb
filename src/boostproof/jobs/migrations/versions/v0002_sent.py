"""What was sent and carried out is remembered, so that it counts once."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """From the first form."""
    op.create_table(
        "sent",
        sa.Column("key", sa.String(length=64), nullable=False),
        sa.Column("address", sa.Text(), nullable=False),
        sa.Column("at", sa.String(length=32), nullable=False),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_sent")),
    )
