"""People who are told, leases, up to when a room was judged; a notice of the whole house."""

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "contacts",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("email", sa.Text(), nullable=False),
        sa.Column("telephone", sa.Text(), nullable=False),
        sa.Column("kinds", sa.JSON(), nullable=False),
        sa.Column("rooms", sa.JSON(), nullable=False),
        sa.Column("after_h", sa.Double(), nullable=False),
        sa.Column("on_call", sa.Boolean(), nullable=False),
        sa.Column("review_on", sa.Date(), nullable=True),
        sa.Column("set_by", sa.Text(), nullable=False),
        sa.Column("set_utc", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_contacts")),
    )
    op.create_table(
        "leases",
        sa.Column("duty", sa.Text(), nullable=False),
        sa.Column("holder", sa.Text(), nullable=False),
        sa.Column("until_utc", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("duty", name=op.f("pk_leases")),
    )
    op.create_table(
        "judged_until",
        sa.Column("room", sa.Text(), nullable=False),
        sa.Column("until_utc", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["room"],
            ["rooms.room"],
            name=op.f("fk_judged_until_room_rooms"),
            onupdate="CASCADE",
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("room", name=op.f("pk_judged_until")),
    )
    with op.batch_alter_table("notices") as notices:
        notices.alter_column("room", existing_type=sa.Text(), nullable=True)
