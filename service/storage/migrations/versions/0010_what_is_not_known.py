"""What nobody knows may be left open, or stated as a range; checks side by side."""

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None

SIZE = sa.CheckConstraint("width_mm > 0 AND height_mm > 0", name="ck_works_has_a_size")
ENDS = sa.CheckConstraint("to_utc > from_utc", name="ck_hangings_ends_after_it_begins")


def upgrade() -> None:
    may_be_unknown("works", "paper", "finish", checks=[SIZE])
    may_be_unknown("hangings", "wall", checks=[ENDS])
    may_be_unknown("mounts", "mount", "panel", "adhesive")
    may_be_unknown("frames", "frame", "glazing")
    may_be_a_range(
        "mounts", "hinge_free_length_mm", "hinge_coverage", "mounted_rh_pct", "mounted_temp_c"
    )
    may_be_a_range("frames", "closing_rh_pct", "spacer_mm")
    op.add_column("rooms", sa.Column("rhythm", sa.Text(), nullable=True))
    op.create_index(op.f("ix_placements_work_id"), "placements", ["work_id"], unique=False)
    side_by_side()


def may_be_unknown(
    table: str, *columns: str, checks: list[sa.CheckConstraint] | None = None
) -> None:
    with op.batch_alter_table(table, table_args=tuple(checks or ())) as changed:
        for column in columns:
            changed.alter_column(column, existing_type=sa.Text(), nullable=True)


def may_be_a_range(table: str, *columns: str) -> None:
    with op.batch_alter_table(table) as changed:
        for column in columns:
            changed.alter_column(
                column,
                existing_type=sa.Double(),
                type_=sa.Text(),
                existing_nullable=True,
                postgresql_using=f"{column}::text",
            )


def side_by_side() -> None:
    op.create_table(
        "side_by_side",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("logger", sa.Text(), nullable=False),
        sa.Column("other", sa.Text(), nullable=False),
        sa.Column("from_utc", sa.DateTime(timezone=True), nullable=False),
        sa.Column("to_utc", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.CheckConstraint("to_utc > from_utc", name=op.f("ck_side_by_side_ends_after_it_begins")),
        *(
            sa.ForeignKeyConstraint(
                [column],
                ["loggers.logger"],
                name=op.f(f"fk_side_by_side_{column}_loggers"),
                onupdate="CASCADE",
                ondelete="RESTRICT",
            )
            for column in ("logger", "other")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_side_by_side")),
        sa.UniqueConstraint(
            "logger", "other", "from_utc", name=op.f("uq_side_by_side_logger_other_from_utc")
        ),
    )
    for column in ("logger", "other"):
        op.create_index(op.f(f"ix_side_by_side_{column}"), "side_by_side", [column], unique=False)
