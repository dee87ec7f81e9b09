"""Who may sign in and is signed in, what programs may ask, and by whom a change came."""

import sqlalchemy as sa
from alembic import op

revision = "0016"
down_revision = "0015"
branch_labels = None
depends_on = None

TIME = sa.DateTime(timezone=True)


def upgrade() -> None:
    for table, column, kind, filled in (
        ("users", "second_factor", sa.Text(), ""),
        ("users", "recovery_hashes", sa.JSON(), "[]"),
        ("audit", "account", sa.Text(), ""),
        ("audit", "page", sa.Text(), ""),
        ("tokens", "name", sa.Text(), ""),
        ("tokens", "scope", sa.Text(), "readings"),
    ):
        op.add_column(table, sa.Column(column, kind, nullable=False, server_default=filled))
    op.create_table(
        "sessions",
        sa.Column("session_hash", sa.Text(), nullable=False),
        sa.Column("user", sa.Text(), nullable=False),
        sa.Column("begun_utc", TIME, nullable=False),
        sa.Column("used_utc", TIME, nullable=False),
        sa.ForeignKeyConstraint(
            ["user"],
            ["users.user"],
            name=op.f("fk_sessions_user_users"),
            onupdate="CASCADE",
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("session_hash", name=op.f("pk_sessions")),
    )
    op.create_index(op.f("ix_sessions_user"), "sessions", ["user"], unique=False)
    op.create_table(
        "sign_in_links",
        sa.Column("link_hash", sa.Text(), nullable=False),
        sa.Column("user", sa.Text(), nullable=False),
        sa.Column("made_utc", TIME, nullable=False),
        sa.Column("ends_utc", TIME, nullable=False),
        sa.Column("by", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("link_hash", name=op.f("pk_sign_in_links")),
    )
    op.create_table(
        "attempts",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("user", sa.Text(), nullable=False),
        sa.Column("address", sa.Text(), nullable=False),
        sa.Column("at_utc", TIME, nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_attempts")),
    )
    op.create_index(op.f("ix_attempts_user"), "attempts", ["user"], unique=False)
    op.create_index(op.f("ix_attempts_address"), "attempts", ["address"], unique=False)
