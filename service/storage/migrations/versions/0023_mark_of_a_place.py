"""A mark that stands in the register and beside its files, so that no other register takes them."""

import sqlalchemy as sa
from alembic import op

revision = "0023"
down_revision = "0022"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("kept_in", sa.Column("mark", sa.Text(), nullable=False, server_default=""))
