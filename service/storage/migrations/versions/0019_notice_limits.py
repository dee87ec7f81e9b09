"""When notices begin and end: a declared record, out of the settings it stood among."""

import json
from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0019"
down_revision = "0018"
branch_labels = None
depends_on = None

TIME = sa.DateTime(timezone=True)
NUMBERS = {
    "silence_days": 8.0,
    "quiet_h": 6.0,
    "long_excursion_h": 24.0,
    "again_h": 6.0,
    "again_rh_pct": 5.0,
    "open_p": 0.5,
    "keep_p": 0.4,
}


def upgrade() -> None:
    limits = op.create_table(
        "notice_limits",
        sa.Column("from_utc", TIME, nullable=False),
        *(sa.Column(name, sa.Double(), nullable=False) for name in NUMBERS),
        sa.Column("quiet_from", sa.Text(), nullable=False),
        sa.Column("quiet_to", sa.Text(), nullable=False),
        sa.Column("air_waits", sa.Boolean(), nullable=False),
        sa.Column("review_on", TIME, nullable=True),
        sa.Column("by", sa.Text(), nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("from_utc", name=op.f("pk_notice_limits")),
    )
    settings = sa.table(
        "settings",
        sa.column("name", sa.Text()),
        sa.column("value", sa.JSON()),
        sa.column("from_utc", TIME),
        sa.column("by", sa.Text()),
        sa.column("why", sa.Text()),
    )
    ours = settings.c.name == "notices"
    rows = [_row(one) for one in op.get_bind().execute(sa.select(settings).where(ours))]
    if rows:
        op.bulk_insert(limits, rows)
        op.execute(settings.delete().where(ours))


def _row(one: Any) -> dict[str, object]:
    kept = json.loads(one.value) if isinstance(one.value, str) else one.value
    values = kept["value"]
    review = values.get("review_on")
    return {
        "from_utc": one.from_utc,
        **{name: float(values.get(name, usual)) for name, usual in NUMBERS.items()},
        "quiet_from": values.get("quiet_from", ""),
        "quiet_to": values.get("quiet_to", ""),
        "air_waits": bool(values.get("air_waits", False)),
        "review_on": datetime.fromisoformat(review).replace(tzinfo=UTC) if review else None,
        "by": one.by,
        "why": one.why,
    }
