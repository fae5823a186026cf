"""Repricings of many quotes: the runs, the prices that each works with, its parts of work, what it found of each quote."""

from __future__ import annotations

from alembic import op

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None

ROLES = "office_app, office_batch"

TABLES = """
ALTER TABLE organisations ADD COLUMN automatic_preview boolean NOT NULL DEFAULT false;
-- prices of before: what is no line of another list is found without looking at a line itself
DROP INDEX quote_lines_org_id_product_id_idx;
CREATE INDEX quote_lines_org_id_product_id_price_list_id_idx ON quote_lines (org_id, product_id, price_list_id);

CREATE TABLE repricings (
    org_id uuid NOT NULL REFERENCES organisations,
    id uuid NOT NULL,
    key_id uuid,
    mode text NOT NULL CHECK (mode IN ('preview', 'revise')),
    choice text NOT NULL CHECK (choice IN ('keep', 'choose')),
    threshold numeric(14, 4) NOT NULL DEFAULT 0,
    limit_percent numeric(9, 4),
    limit_amount numeric(14, 4),
    margin_floor_percent numeric(7, 4) NOT NULL DEFAULT 0,
    selection jsonb NOT NULL DEFAULT '{}',
    price_list_id uuid,
    price_date date,
    part_size integer NOT NULL DEFAULT 1000,
    state text NOT NULL DEFAULT 'waiting'
        CHECK (state IN ('waiting', 'running', 'paused', 'cancelled', 'done', 'failed')),
    failure text,
    began_at timestamptz,
    ended_at timestamptz,
    worked_from timestamptz,
    worked_before integer NOT NULL DEFAULT 0,
    parts integer,
    parts_done integer NOT NULL DEFAULT 0,
    selected integer,
    looked_at integer NOT NULL DEFAULT 0,
    visited integer NOT NULL DEFAULT 0,
    changed integer NOT NULL DEFAULT 0,
    revised integer NOT NULL DEFAULT 0,
    conflicts integer NOT NULL DEFAULT 0,
    within_limits integer NOT NULL DEFAULT 0,
    unpriceable integer NOT NULL DEFAULT 0,
    summary jsonb,
    created_at timestamptz NOT NULL DEFAULT now(),
    version integer NOT NULL DEFAULT 1,
    PRIMARY KEY (org_id, id),
    FOREIGN KEY (org_id, key_id) REFERENCES api_keys,
    FOREIGN KEY (org_id, price_list_id) REFERENCES price_lists
);
CREATE INDEX repricings_org_id_created_at_id_idx ON repricings (org_id, created_at, id);

CREATE TABLE repricing_parts (
    org_id uuid NOT NULL REFERENCES organisations,
    repricing_id uuid NOT NULL,
    number integer NOT NULL,
    first_quote uuid NOT NULL,
    last_quote uuid NOT NULL,
    done_at timestamptz,
    created_at timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (org_id, repricing_id, number),
    FOREIGN KEY (org_id, repricing_id) REFERENCES repricings
);

CREATE TABLE repricing_prices (
    org_id uuid NOT NULL REFERENCES organisations,
    repricing_id uuid NOT NULL,
    supplier_id uuid NOT NULL,
    product_id uuid NOT NULL,
    pack_size numeric NOT NULL,
    from_packs integer NOT NULL,
    below_packs integer,
    price_list_id uuid NOT NULL,
    price numeric NOT NULL,
    stated numeric NOT NULL,
    split boolean NOT NULL,
    since timestamptz,
    created_at timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (org_id, repricing_id, supplier_id, product_id, pack_size, from_packs),
    FOREIGN KEY (org_id, repricing_id) REFERENCES repricings
);

CREATE TABLE repricing_suppliers (
    org_id uuid NOT NULL REFERENCES organisations,
    repricing_id uuid NOT NULL,
    supplier_id uuid NOT NULL,
    name text NOT NULL,
    delivery_charge numeric NOT NULL,
    free_delivery_over numeric,
    freight_per_kg numeric NOT NULL,
    carry_in numeric NOT NULL,
    split_pack_surcharge numeric NOT NULL,
    exchange jsonb,
    created_at timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (org_id, repricing_id, supplier_id),
    FOREIGN KEY (org_id, repricing_id) REFERENCES repricings
);

CREATE TABLE repricing_conditions (
    org_id uuid NOT NULL REFERENCES organisations,
    repricing_id uuid NOT NULL,
    old_id uuid NOT NULL,
    buyer text NOT NULL,
    new_id uuid NOT NULL,
    other_terms boolean NOT NULL,
    minor integer NOT NULL,
    half_even boolean NOT NULL,
    valid_days integer NOT NULL,
    created_at timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (org_id, repricing_id, old_id, buyer),
    FOREIGN KEY (org_id, repricing_id) REFERENCES repricings,
    FOREIGN KEY (org_id, old_id) REFERENCES quote_conditions,
    FOREIGN KEY (org_id, new_id) REFERENCES quote_conditions
);

CREATE TABLE repricing_changes (
    org_id uuid NOT NULL REFERENCES organisations,
    repricing_id uuid NOT NULL,
    quote_id uuid NOT NULL,
    outcome text NOT NULL CHECK (outcome IN ('changed', 'conflict', 'unpriceable')),
    state text NOT NULL,
    revision integer NOT NULL,
    new_revision integer,
    old_cost numeric,
    old_net numeric,
    old_gross numeric,
    new_cost numeric,
    new_net numeric,
    new_gross numeric,
    causes jsonb NOT NULL DEFAULT '[]',
    note text NOT NULL DEFAULT '',
    created_at timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (org_id, repricing_id, quote_id),
    FOREIGN KEY (org_id, repricing_id) REFERENCES repricings,
    FOREIGN KEY (org_id, quote_id) REFERENCES quotes
);
"""

WALL = """
ALTER TABLE {table} ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY own_organisation ON {table}
    USING (org_id = nullif(current_setting('app.org', true), '')::uuid)
    WITH CHECK (org_id = nullif(current_setting('app.org', true), '')::uuid);
GRANT SELECT, INSERT ON {table} TO {roles};
"""
RIGHTS = f"""
GRANT UPDATE ON repricings, repricing_parts, repricing_prices TO {ROLES};
GRANT DELETE ON repricing_prices, repricing_suppliers, repricing_conditions TO {ROLES};
-- runs of all organisations that may have been left behind
CREATE POLICY running_seen ON repricings FOR SELECT TO office_batch USING (state = 'running');
"""
NAMES = (
    "repricings", "repricing_parts", "repricing_prices", "repricing_suppliers", "repricing_conditions",
    "repricing_changes",
)


def upgrade() -> None:
    op.execute(TABLES)
    for table in NAMES:
        op.execute(WALL.format(table=table, roles=ROLES))
    op.execute(RIGHTS)


def downgrade() -> None:
    for table in reversed(NAMES):
        op.execute(f"DROP TABLE {table}")
    op.execute("DROP INDEX quote_lines_org_id_product_id_price_list_id_idx")
    op.execute("CREATE INDEX quote_lines_org_id_product_id_idx ON quote_lines (org_id, product_id)")
    op.execute("ALTER TABLE organisations DROP COLUMN automatic_preview")
