"""Works away: houses that borrow, crates, and when a crate left, arrived and was opened."""

import sqlalchemy as sa
from alembic import op

revision = "0020"
down_revision = "0019"
branch_labels = None
depends_on = None

TIME = sa.DateTime(timezone=True)


def upgrade() -> None:
    for table, name in (("sites", "borrower"), ("rooms", "crate")):
        no: sa.Column[bool] = sa.Column(
            name, sa.Boolean(), nullable=False, server_default=sa.false()
        )
        op.add_column(table, no)
    for name in ("left_utc", "arrived_utc", "opened_utc"):
        op.add_column("hangings", sa.Column(name, TIME, nullable=True))
