"""What long work knows already is kept beside how far it is."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """From the second form."""
    op.add_column("task", sa.Column("so_far", sa.Text(), nullable=True))
