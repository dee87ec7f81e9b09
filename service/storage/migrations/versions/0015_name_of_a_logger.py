"""The name under which a logger is shown, beside the short one that its readings keep."""

import sqlalchemy as sa
from alembic import op

revision = "0015"
down_revision = "0014"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("loggers", sa.Column("name", sa.Text(), nullable=False, server_default=""))
