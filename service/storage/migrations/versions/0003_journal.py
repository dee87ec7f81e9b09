"""Uploads, choices, incidents, notices, the outbox, users, settings, the audit trail."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    audit()
    choices()
    settings()
    uploads()
    users()
    incidents()
    notices()
    outbox()


def audit() -> None:
    op.create_table(
        "audit",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("at_utc", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Text(), nullable=False),
        sa.Column("what", sa.Text(), nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("before", sa.JSON(), nullable=True),
        sa.Column("after", sa.JSON(), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_audit")),
    )
    op.create_index(op.f("ix_audit_at_utc"), "audit", ["at_utc"], unique=False)


def choices() -> None:
    op.create_table(
        "choices",
        sa.Column("logger", sa.Text(), nullable=False),
        sa.Column("choice", sa.JSON(), nullable=False),
        sa.Column("confirmed_utc", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("logger", name=op.f("pk_choices")),
    )


def settings() -> None:
    op.create_table(
        "settings",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("value", sa.JSON(), nullable=False),
        sa.Column("from_utc", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Text(), nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_settings")),
        sa.UniqueConstraint("name", "from_utc", name=op.f("uq_settings_name_from_utc")),
    )
    op.create_index(op.f("ix_settings_name"), "settings", ["name"], unique=False)


def uploads() -> None:
    op.create_table(
        "uploads",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("logger", sa.Text(), nullable=False),
        sa.Column("reading_key", sa.Text(), nullable=False),
        sa.Column("state", sa.Text(), nullable=False),
        sa.Column("received_utc", sa.DateTime(timezone=True), nullable=False),
        sa.Column("stored_utc", sa.DateTime(timezone=True), nullable=True),
        sa.Column("by", sa.Text(), nullable=False),
        sa.Column("choice", sa.JSON(), nullable=False),
        sa.Column("understanding", sa.JSON(), nullable=False),
        sa.Column("report", sa.JSON(), nullable=False),
        sa.CheckConstraint(
            "state IN ('received', 'stored', 'withdrawing', 'withdrawn')",
            name=op.f("ck_uploads_state_known"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_uploads")),
        sa.UniqueConstraint(
            "sha256", "logger", "reading_key", name=op.f("uq_uploads_sha256_logger_reading_key")
        ),
    )
    op.create_index(op.f("ix_uploads_sha256"), "uploads", ["sha256"], unique=False)


def users() -> None:
    op.create_table(
        "users",
        sa.Column("user", sa.Text(), nullable=False),
        sa.Column("full_name", sa.Text(), nullable=False),
        sa.Column("role", sa.Text(), nullable=False),
        sa.Column("email", sa.Text(), nullable=False),
        sa.Column("password_hash", sa.Text(), nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("user", name=op.f("pk_users")),
    )


def incidents() -> None:
    op.create_table(
        "incidents",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("room", sa.Text(), nullable=False),
        sa.Column("opened_utc", sa.DateTime(timezone=True), nullable=False),
        sa.Column("opened_by", sa.Text(), nullable=False),
        sa.Column("noticed", sa.Text(), nullable=False),
        sa.Column("first_utc", sa.DateTime(timezone=True), nullable=True),
        sa.Column("last_utc", sa.DateTime(timezone=True), nullable=True),
        sa.Column("cause", sa.Text(), nullable=False),
        sa.Column("cause_state", sa.Text(), nullable=False),
        sa.Column("details", sa.JSON(), nullable=False),
        sa.Column("closed_utc", sa.DateTime(timezone=True), nullable=True),
        sa.Column("closed_by", sa.Text(), nullable=False),
        sa.Column("lesson", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["room"],
            ["rooms.room"],
            name=op.f("fk_incidents_room_rooms"),
            onupdate="CASCADE",
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_incidents")),
    )
    op.create_index(op.f("ix_incidents_room"), "incidents", ["room"], unique=False)


def notices() -> None:
    op.create_table(
        "notices",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("cause_key", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("room", sa.Text(), nullable=False),
        sa.Column("headline", sa.Text(), nullable=False),
        sa.Column("details", sa.JSON(), nullable=False),
        sa.Column("since_utc", sa.DateTime(timezone=True), nullable=False),
        sa.Column("raised_utc", sa.DateTime(timezone=True), nullable=False),
        sa.Column("changed_utc", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ended_utc", sa.DateTime(timezone=True), nullable=True),
        sa.Column("seen_utc", sa.DateTime(timezone=True), nullable=True),
        sa.Column("seen_by", sa.Text(), nullable=False),
        sa.Column("seen_reason", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["room"],
            ["rooms.room"],
            name=op.f("fk_notices_room_rooms"),
            onupdate="CASCADE",
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_notices")),
        sa.UniqueConstraint("cause_key", name=op.f("uq_notices_cause_key")),
    )
    op.create_index(op.f("ix_notices_ended_utc"), "notices", ["ended_utc"], unique=False)
    op.create_index(op.f("ix_notices_room"), "notices", ["room"], unique=False)


def outbox() -> None:
    op.create_table(
        "outbox",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("letter_key", sa.Text(), nullable=False),
        sa.Column("notice_id", sa.Integer(), nullable=True),
        sa.Column("recipient", sa.Text(), nullable=False),
        sa.Column("subject", sa.Text(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.Column("message_id", sa.Text(), nullable=False),
        sa.Column("queued_utc", sa.DateTime(timezone=True), nullable=False),
        sa.Column("due_utc", sa.DateTime(timezone=True), nullable=False),
        sa.Column("tries", sa.Integer(), nullable=False),
        sa.Column("last_error", sa.Text(), nullable=False),
        sa.Column("claimed_by", sa.Text(), nullable=False),
        sa.Column("sent_utc", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(
            ["notice_id"],
            ["notices.id"],
            name=op.f("fk_outbox_notice_id_notices"),
            onupdate="CASCADE",
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_outbox")),
        sa.UniqueConstraint("letter_key", name=op.f("uq_outbox_letter_key")),
        sa.UniqueConstraint("message_id", name=op.f("uq_outbox_message_id")),
    )
    op.create_index(op.f("ix_outbox_notice_id"), "outbox", ["notice_id"], unique=False)
    op.create_index(
        op.f("ix_outbox_sent_utc_due_utc"), "outbox", ["sent_utc", "due_utc"], unique=False
    )
