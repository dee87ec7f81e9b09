"""Measured values that no longer count, and notes on hangings."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("overrides", sa.Column("withdrawn", sa.Text(), nullable=False, server_default=""))
    op.add_column(
        "overrides", sa.Column("withdrawn_utc", sa.DateTime(timezone=True), nullable=True)
    )
    op.add_column("hangings", sa.Column("note", sa.Text(), nullable=False, server_default=""))
