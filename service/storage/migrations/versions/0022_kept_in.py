"""Where the files are that the rows name, so that no other place is taken for it."""

import sqlalchemy as sa
from alembic import op

revision = "0022"
down_revision = "0021"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table("kept_in", sa.Column("place", sa.Text(), primary_key=True))
