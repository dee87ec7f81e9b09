"""Which file holds a month of readings: another one takes its place, under a name of its own."""

import sqlalchemy as sa
from alembic import op

revision = "0021"
down_revision = "0020"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("spans", sa.Column("file", sa.Text(), nullable=False, server_default=""))
    op.execute("UPDATE spans SET file = month || '.parquet'")
