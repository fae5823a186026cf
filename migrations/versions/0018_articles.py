"""A supplier's own article codes, and prices that are imported and found by the same plans in every organisation."""

from __future__ import annotations

from alembic import op

revision = "0018"
down_revision = "0022"
branch_labels = None
depends_on = None

ARTICLES = """
ALTER TABLE price_items ADD COLUMN supplier_code text;
CREATE INDEX price_items_org_id_supplier_code_idx ON price_items (org_id, supplier_code)
    WHERE supplier_code IS NOT NULL;
"""

# the organisation of a price is that of its list, which has a key to it: asked again for each of 100,000 rows
ONCE = "ALTER TABLE price_items DROP CONSTRAINT price_items_org_id_fkey"

# With the commonest organisations counted, one that is not among them, or a list written in this transaction,
# was taken to have one row, and joins of 100,000 by 100,000 were planned for it. Uncounted, each is taken to
# have its even share of the table, whose size is known.
UNCOUNTED = {"price_items": ("org_id", "price_list_id"), "products": ("org_id",)}


def upgrade() -> None:
    op.execute(ARTICLES)
    op.execute(ONCE)
    _count("0")


def downgrade() -> None:
    _count("-1")
    op.execute("ALTER TABLE price_items ADD FOREIGN KEY (org_id) REFERENCES organisations")
    op.execute("ALTER TABLE price_items DROP COLUMN supplier_code")


def _count(target: str) -> None:
    for table, columns in UNCOUNTED.items():
        for column in columns:
            op.execute(f"ALTER TABLE {table} ALTER COLUMN {column} SET STATISTICS {target}")
