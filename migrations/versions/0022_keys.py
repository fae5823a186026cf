"""Keys are rotated and have quotas of their own."""

from __future__ import annotations

from alembic import op

revision = "0022"
down_revision = "0020"
branch_labels = None
depends_on = None

UP = """
ALTER TABLE api_keys
    ADD COLUMN version integer NOT NULL DEFAULT 1,
    ADD COLUMN requests_per_minute integer
        CONSTRAINT api_keys_requests_per_minute_check CHECK (requests_per_minute > 0);
"""

DOWN = """
ALTER TABLE api_keys
    DROP CONSTRAINT api_keys_requests_per_minute_check, DROP COLUMN version, DROP COLUMN requests_per_minute;
"""


def upgrade() -> None:
    op.execute(UP)


def downgrade() -> None:
    op.execute(DOWN)
