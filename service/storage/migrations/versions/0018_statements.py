"""Climate statements, each as it was issued."""

import sqlalchemy as sa
from alembic import op

revision = "0018"
down_revision = "0017"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "statements",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("room", sa.Text(), nullable=False),
        sa.Column("issued_utc", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Text(), nullable=False),
        sa.Column("asked", sa.JSON(), nullable=False),
        sa.Column("facts", sa.JSON(), nullable=False),
        sa.Column("pdf", sa.Text(), nullable=False),
        sa.Column("corrects", sa.Integer(), nullable=True),
        sa.Column("why", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["room"],
            ["rooms.room"],
            name=op.f("fk_statements_room_rooms"),
            onupdate="CASCADE",
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["corrects"],
            ["statements.id"],
            name=op.f("fk_statements_corrects_statements"),
            onupdate="CASCADE",
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_statements")),
        sa.UniqueConstraint("corrects", name=op.f("uq_statements_corrects")),
    )
    op.create_index(op.f("ix_statements_room"), "statements", ["room"])
