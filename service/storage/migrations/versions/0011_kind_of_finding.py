"""What kind of finding a look was: waves, ridges of too much tension, scallops, curl."""

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("inspections", sa.Column("finding", sa.Text(), nullable=True))
