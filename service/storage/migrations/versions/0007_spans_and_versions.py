"""What is known of the readings without opening them, and what has changed since."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "spans",
        sa.Column("logger", sa.Text(), nullable=False),
        sa.Column("month", sa.Text(), nullable=False),
        sa.Column("first_utc", sa.DateTime(timezone=True), nullable=False),
        sa.Column("last_utc", sa.DateTime(timezone=True), nullable=False),
        sa.Column("rows", sa.Integer(), nullable=False),
        sa.Column("digest", sa.Text(), nullable=False),
        sa.Column("bytes", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("logger", "month", name="pk_spans"),
    )
    op.create_table(
        "versions",
        sa.Column("scope", sa.Text(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("scope", name="pk_versions"),
    )
