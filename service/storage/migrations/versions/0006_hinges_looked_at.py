"""Whether the edges were looked at, and a hinge was found loose."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("inspections", sa.Column("released", sa.Boolean(), nullable=True))
