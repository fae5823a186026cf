"""What an office prints on its documents, and of its customers their kind, language and erasure."""

from __future__ import annotations

from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

UP = """
ALTER TABLE organisations ADD COLUMN letterhead jsonb NOT NULL DEFAULT '{}';
ALTER TABLE customers
    ADD COLUMN kind text NOT NULL DEFAULT 'consumer',
    ADD COLUMN locale text,
    ADD COLUMN tax_number text,
    ADD COLUMN erased_at timestamptz,
    ADD CONSTRAINT customers_kind_check CHECK (kind IN ('consumer', 'business')),
    ADD CONSTRAINT customers_locale_check CHECK (locale IN ('de', 'en', 'es', 'fr'));
CREATE INDEX quotes_org_id_customer_id_idx ON quotes (org_id, customer_id);
"""

DOWN = """
DROP INDEX quotes_org_id_customer_id_idx;
ALTER TABLE customers
    DROP COLUMN kind, DROP COLUMN locale, DROP COLUMN tax_number, DROP COLUMN erased_at;
ALTER TABLE organisations DROP COLUMN letterhead;
"""


def upgrade() -> None:
    op.execute(UP)


def downgrade() -> None:
    op.execute(DOWN)
