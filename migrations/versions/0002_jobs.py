"""The job queue's own tables, in the schema `jobs`, as the queue's package ships them."""

from __future__ import annotations

from alembic import op

from service.store.job_schema import create_job_schema

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    create_job_schema(op.get_bind())


def downgrade() -> None:
    op.execute("DROP SCHEMA jobs CASCADE")
