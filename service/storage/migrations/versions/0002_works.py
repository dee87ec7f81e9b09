"""Works, mounts, frames, hangings, inspections; where loggers hung."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    works()
    frames()
    inspections()
    mounts()
    overrides()
    hangings()
    placements()


def works() -> None:
    op.create_table(
        "works",
        sa.Column("work_id", sa.Text(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("width_mm", sa.Double(), nullable=False),
        sa.Column("height_mm", sa.Double(), nullable=False),
        sa.Column("paper", sa.Text(), nullable=False),
        sa.Column("finish", sa.Text(), nullable=False),
        sa.Column("grain", sa.Text(), nullable=False),
        sa.Column("on_loan", sa.Boolean(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.CheckConstraint("width_mm > 0 AND height_mm > 0", name=op.f("ck_works_has_a_size")),
        sa.PrimaryKeyConstraint("work_id", name=op.f("pk_works")),
    )


def frames() -> None:
    op.create_table(
        "frames",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("work_id", sa.Text(), nullable=False),
        sa.Column("closed_utc", sa.DateTime(timezone=True), nullable=True),
        sa.Column("frame", sa.Text(), nullable=False),
        sa.Column("closing_rh_pct", sa.Double(), nullable=True),
        sa.Column("spacer_mm", sa.Double(), nullable=True),
        sa.Column("glazing", sa.Text(), nullable=False),
        sa.Column("by", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["work_id"],
            ["works.work_id"],
            name=op.f("fk_frames_work_id_works"),
            onupdate="CASCADE",
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_frames")),
        sa.UniqueConstraint("work_id", "closed_utc", name=op.f("uq_frames_work_id_closed_utc")),
    )
    op.create_index(op.f("ix_frames_work_id"), "frames", ["work_id"], unique=False)


def inspections() -> None:
    op.create_table(
        "inspections",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("work_id", sa.Text(), nullable=False),
        sa.Column("at_utc", sa.DateTime(timezone=True), nullable=False),
        sa.Column("grade", sa.Integer(), nullable=False),
        sa.Column("wave_mm", sa.Double(), nullable=True),
        sa.Column("place", sa.Text(), nullable=False),
        sa.Column("lamp_side", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("by", sa.Text(), nullable=False),
        sa.Column("withdrawn", sa.Text(), nullable=False),
        sa.CheckConstraint("grade BETWEEN 0 AND 4", name=op.f("ck_inspections_grade_0_to_4")),
        sa.ForeignKeyConstraint(
            ["work_id"],
            ["works.work_id"],
            name=op.f("fk_inspections_work_id_works"),
            onupdate="CASCADE",
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_inspections")),
        sa.UniqueConstraint(
            "work_id", "at_utc", "by", name=op.f("uq_inspections_work_id_at_utc_by")
        ),
    )
    op.create_index(op.f("ix_inspections_work_id"), "inspections", ["work_id"], unique=False)


def mounts() -> None:
    op.create_table(
        "mounts",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("work_id", sa.Text(), nullable=False),
        sa.Column("mounted_utc", sa.DateTime(timezone=True), nullable=True),
        sa.Column("mount", sa.Text(), nullable=False),
        sa.Column("panel", sa.Text(), nullable=False),
        sa.Column("adhesive", sa.Text(), nullable=False),
        sa.Column("hinge_free_length_mm", sa.Double(), nullable=True),
        sa.Column("hinge_coverage", sa.Double(), nullable=True),
        sa.Column("mounted_rh_pct", sa.Double(), nullable=True),
        sa.Column("mounted_temp_c", sa.Double(), nullable=True),
        sa.Column("by", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["work_id"],
            ["works.work_id"],
            name=op.f("fk_mounts_work_id_works"),
            onupdate="CASCADE",
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_mounts")),
        sa.UniqueConstraint("work_id", "mounted_utc", name=op.f("uq_mounts_work_id_mounted_utc")),
    )
    op.create_index(op.f("ix_mounts_work_id"), "mounts", ["work_id"], unique=False)


def overrides() -> None:
    op.create_table(
        "overrides",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("work_id", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("value", sa.Double(), nullable=False),
        sa.Column("low", sa.Double(), nullable=False),
        sa.Column("high", sa.Double(), nullable=False),
        sa.Column("origin", sa.Text(), nullable=False),
        sa.Column("from_utc", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint(
            "low <= value AND value <= high", name=op.f("ck_overrides_value_in_its_range")
        ),
        sa.ForeignKeyConstraint(
            ["work_id"],
            ["works.work_id"],
            name=op.f("fk_overrides_work_id_works"),
            onupdate="CASCADE",
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_overrides")),
        sa.UniqueConstraint(
            "work_id", "name", "from_utc", name=op.f("uq_overrides_work_id_name_from_utc")
        ),
    )
    op.create_index(op.f("ix_overrides_work_id"), "overrides", ["work_id"], unique=False)


def hangings() -> None:
    op.create_table(
        "hangings",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("work_id", sa.Text(), nullable=False),
        sa.Column("room", sa.Text(), nullable=False),
        sa.Column("from_utc", sa.DateTime(timezone=True), nullable=True),
        sa.Column("to_utc", sa.DateTime(timezone=True), nullable=True),
        sa.Column("wall", sa.Text(), nullable=False),
        sa.Column("sun_or_spot", sa.Boolean(), nullable=False),
        sa.Column("position", sa.Text(), nullable=False),
        sa.CheckConstraint("to_utc > from_utc", name=op.f("ck_hangings_ends_after_it_begins")),
        sa.ForeignKeyConstraint(
            ["room"],
            ["rooms.room"],
            name=op.f("fk_hangings_room_rooms"),
            onupdate="CASCADE",
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["work_id"],
            ["works.work_id"],
            name=op.f("fk_hangings_work_id_works"),
            onupdate="CASCADE",
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_hangings")),
        sa.UniqueConstraint("work_id", "from_utc", name=op.f("uq_hangings_work_id_from_utc")),
    )
    op.create_index(op.f("ix_hangings_room"), "hangings", ["room"], unique=False)
    op.create_index(op.f("ix_hangings_work_id"), "hangings", ["work_id"], unique=False)


def placements() -> None:
    op.create_table(
        "placements",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("logger", sa.Text(), nullable=False),
        sa.Column("room", sa.Text(), nullable=False),
        sa.Column("from_utc", sa.DateTime(timezone=True), nullable=True),
        sa.Column("to_utc", sa.DateTime(timezone=True), nullable=True),
        sa.Column("place", sa.Text(), nullable=False),
        sa.Column("work_id", sa.Text(), nullable=True),
        sa.Column("position", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.CheckConstraint("to_utc > from_utc", name=op.f("ck_placements_ends_after_it_begins")),
        sa.ForeignKeyConstraint(
            ["logger"],
            ["loggers.logger"],
            name=op.f("fk_placements_logger_loggers"),
            onupdate="CASCADE",
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["room"],
            ["rooms.room"],
            name=op.f("fk_placements_room_rooms"),
            onupdate="CASCADE",
            ondelete="RESTRICT",
        ),
        sa.ForeignKeyConstraint(
            ["work_id"],
            ["works.work_id"],
            name=op.f("fk_placements_work_id_works"),
            onupdate="CASCADE",
            ondelete="RESTRICT",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_placements")),
        sa.UniqueConstraint("logger", "from_utc", name=op.f("uq_placements_logger_from_utc")),
    )
    op.create_index(op.f("ix_placements_logger"), "placements", ["logger"], unique=False)
    op.create_index(op.f("ix_placements_room"), "placements", ["room"], unique=False)
