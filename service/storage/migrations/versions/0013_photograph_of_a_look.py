"""A look's photograph, and what the estimate said before the look was written down."""

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column(
        "inspections", sa.Column("photograph", sa.Text(), nullable=False, server_default="")
    )
    op.add_column("inspections", sa.Column("estimate_p", sa.Double(), nullable=True))
