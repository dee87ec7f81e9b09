"""Work in hand that outlives its process, and what gateways show to send readings."""

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("versions", sa.Column("since_utc", sa.DateTime(timezone=True), nullable=True))
    op.create_table(
        "jobs",
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Text(), nullable=False),
        sa.Column("batch", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("arguments", sa.JSON(), nullable=False),
        sa.Column("state", sa.Text(), nullable=False),
        sa.Column("step", sa.Text(), nullable=False),
        sa.Column("result", sa.JSON(), nullable=True),
        sa.Column("problem", sa.JSON(), nullable=True),
        sa.Column("queued_utc", sa.DateTime(timezone=True), nullable=False),
        sa.Column("changed_utc", sa.DateTime(timezone=True), nullable=False),
        sa.Column("owner", sa.Text(), nullable=False),
        sa.Column("lease_utc", sa.DateTime(timezone=True), nullable=True),
        sa.Column("tries", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_jobs")),
        sa.UniqueConstraint("job_id", name=op.f("uq_jobs_job_id")),
    )
    op.create_index(op.f("ix_jobs_batch"), "jobs", ["batch"], unique=False)
    op.create_index(op.f("ix_jobs_state"), "jobs", ["state"], unique=False)
    op.create_table(
        "tokens",
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("logger", sa.Text(), nullable=False),
        sa.Column("token_hash", sa.Text(), nullable=False),
        sa.Column("per_hour", sa.Integer(), nullable=False),
        sa.Column("made_utc", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Text(), nullable=False),
        sa.Column("revoked_utc", sa.DateTime(timezone=True), nullable=True),
        sa.Column("used_utc", sa.DateTime(timezone=True), nullable=True),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_tokens")),
        sa.UniqueConstraint("token_hash", name=op.f("uq_tokens_token_hash")),
    )
    op.create_index(op.f("ix_tokens_logger"), "tokens", ["logger"], unique=False)
