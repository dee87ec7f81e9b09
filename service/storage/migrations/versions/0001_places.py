"""Places and loggers, and what was going on."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    loggers()
    releases()
    sites()
    calibrations()
    rooms()
    bands()
    events()


def loggers() -> None:
    op.create_table(
        "loggers",
        sa.Column("logger", sa.Text(), nullable=False),
        sa.Column("description", sa.Text(), nullable=False),
        sa.Column("zone", sa.Text(), nullable=False),
        sa.Column("interval_s", sa.Double(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("logger", name=op.f("pk_loggers")),
    )


def releases() -> None:
    op.create_table(
        "releases",
        sa.Column("step", sa.Text(), nullable=False),
        sa.Column("release", sa.Text(), nullable=False),
        sa.Column("at_utc", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("step", name=op.f("pk_releases")),
    )


def sites() -> None:
    op.create_table(
        "sites",
        sa.Column("site", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("zone", sa.Text(), nullable=False),
        sa.Column("altitude_m", sa.Double(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("site", name=op.f("pk_sites")),
    )


def calibrations() -> None:
    op.create_table(
        "calibrations",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("logger", sa.Text(), nullable=False),
        sa.Column("channel", sa.Text(), nullable=False),
        sa.Column("from_utc", sa.DateTime(timezone=True), nullable=True),
        sa.Column("read_1", sa.Double(), nullable=False),
        sa.Column("true_1", sa.Double(), nullable=False),
        sa.Column("read_2", sa.Double(), nullable=True),
        sa.Column("true_2", sa.Double(), nullable=True),
        sa.Column("uncertainty", sa.Double(), nullable=True),
        sa.Column("by", sa.Text(), nullable=False),
        sa.Column("reference", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.CheckConstraint(
            "channel IN ('temp_c', 'rh_pct')", name=op.f("ck_calibrations_channel_known")
        ),
        sa.ForeignKeyConstraint(
            ["logger"],
            ["loggers.logger"],
            name=op.f("fk_calibrations_logger_loggers"),
            onupdate="CASCADE",
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_calibrations")),
        sa.UniqueConstraint(
            "logger", "channel", "from_utc", name=op.f("uq_calibrations_logger_channel_from_utc")
        ),
    )
    op.create_index(op.f("ix_calibrations_logger"), "calibrations", ["logger"], unique=False)


def rooms() -> None:
    op.create_table(
        "rooms",
        sa.Column("room", sa.Text(), nullable=False),
        sa.Column("site", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("outside_walls", sa.Text(), nullable=False),
        sa.Column("store", sa.Boolean(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["site"],
            ["sites.site"],
            name=op.f("fk_rooms_site_sites"),
            onupdate="CASCADE",
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("room", name=op.f("pk_rooms")),
    )


def bands() -> None:
    op.create_table(
        "bands",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("room", sa.Text(), nullable=False),
        sa.Column("band_name", sa.Text(), nullable=False),
        sa.Column("rh_low_pct", sa.Double(), nullable=True),
        sa.Column("rh_high_pct", sa.Double(), nullable=True),
        sa.Column("temp_low_c", sa.Double(), nullable=True),
        sa.Column("temp_high_c", sa.Double(), nullable=True),
        sa.Column("band_owner", sa.Text(), nullable=False),
        sa.Column("band_since", sa.DateTime(timezone=True), nullable=True),
        sa.Column("band_review", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(
            ["room"],
            ["rooms.room"],
            name=op.f("fk_bands_room_rooms"),
            onupdate="CASCADE",
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bands")),
        sa.UniqueConstraint("room", "band_since", name=op.f("uq_bands_room_band_since")),
    )
    op.create_index(op.f("ix_bands_room"), "bands", ["room"], unique=False)


def events() -> None:
    op.create_table(
        "events",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("site", sa.Text(), nullable=False),
        sa.Column("room", sa.Text(), nullable=True),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("from_utc", sa.DateTime(timezone=True), nullable=False),
        sa.Column("to_utc", sa.DateTime(timezone=True), nullable=True),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["room"],
            ["rooms.room"],
            name=op.f("fk_events_room_rooms"),
            onupdate="CASCADE",
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["site"],
            ["sites.site"],
            name=op.f("fk_events_site_sites"),
            onupdate="CASCADE",
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_events")),
        sa.UniqueConstraint(
            "site", "room", "kind", "from_utc", name=op.f("uq_events_site_room_kind_from_utc")
        ),
    )
    op.create_index(op.f("ix_events_room"), "events", ["room"], unique=False)
