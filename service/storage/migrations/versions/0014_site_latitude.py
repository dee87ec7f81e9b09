"""On which side of the equator a house stands."""

import sqlalchemy as sa
from alembic import op

revision = "0014"
down_revision = "0013"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("sites", sa.Column("latitude_deg", sa.Double(), nullable=True))
