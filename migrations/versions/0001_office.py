"""The office's tables, each walled off by organisation, and the triggers that keep activated prices and stored quotes as they are."""

from __future__ import annotations

from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

TABLES = """
CREATE TABLE organisations (
    org_id uuid PRIMARY KEY,
    name text NOT NULL,
    currency char(3) NOT NULL,
    standards text NOT NULL CHECK (standards IN ('us', 'uk', 'de')),
    time_zone text NOT NULL DEFAULT 'UTC',
    number_prefix text NOT NULL DEFAULT 'Q',
    value_overrides jsonb NOT NULL DEFAULT '{}',
    created_at timestamptz NOT NULL DEFAULT now(),
    version integer NOT NULL DEFAULT 1
);

CREATE TABLE api_keys (
    org_id uuid NOT NULL REFERENCES organisations,
    id uuid NOT NULL,
    key_hash text NOT NULL,
    prefix text NOT NULL,
    name text NOT NULL,
    scopes text[] NOT NULL,
    expires_at timestamptz,
    revoked_at timestamptz,
    last_used_at timestamptz,
    created_at timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (org_id, id),
    UNIQUE (org_id, key_hash)
);
CREATE INDEX api_keys_key_hash_idx ON api_keys (key_hash);

CREATE TABLE customers (
    org_id uuid NOT NULL REFERENCES organisations,
    id uuid NOT NULL,
    name text NOT NULL,
    email text,
    phone text,
    address jsonb NOT NULL DEFAULT '{}',
    note text NOT NULL DEFAULT '',
    created_at timestamptz NOT NULL DEFAULT now(),
    version integer NOT NULL DEFAULT 1,
    PRIMARY KEY (org_id, id)
);
CREATE INDEX customers_org_id_created_at_id_idx ON customers (org_id, created_at, id);

CREATE TABLE terms (
    org_id uuid NOT NULL REFERENCES organisations,
    id uuid NOT NULL,
    name text NOT NULL,
    is_default boolean NOT NULL DEFAULT false,
    body jsonb NOT NULL,
    created_at timestamptz NOT NULL DEFAULT now(),
    version integer NOT NULL DEFAULT 1,
    PRIMARY KEY (org_id, id),
    UNIQUE (org_id, name)
);
CREATE UNIQUE INDEX terms_one_default_idx ON terms (org_id) WHERE is_default;

CREATE TABLE idempotency_keys (
    org_id uuid NOT NULL REFERENCES organisations,
    key text NOT NULL,
    fingerprint text NOT NULL,
    status integer NOT NULL,
    headers jsonb NOT NULL,
    body bytea NOT NULL,
    expires_at timestamptz NOT NULL,
    created_at timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (org_id, key)
);
CREATE INDEX idempotency_keys_expires_at_idx ON idempotency_keys (expires_at);

CREATE TABLE suppliers (
    org_id uuid NOT NULL REFERENCES organisations,
    id uuid NOT NULL,
    name text NOT NULL,
    currency char(3) NOT NULL,
    delivery_charge numeric(14, 4) NOT NULL DEFAULT 0,
    free_delivery_over numeric(14, 4),
    minimum_order numeric(14, 4),
    lead_time_days integer NOT NULL DEFAULT 0,
    region text,
    archived_at timestamptz,
    created_at timestamptz NOT NULL DEFAULT now(),
    version integer NOT NULL DEFAULT 1,
    PRIMARY KEY (org_id, id),
    UNIQUE (org_id, name)
);

CREATE TABLE products (
    org_id uuid NOT NULL REFERENCES organisations,
    id uuid NOT NULL,
    role text NOT NULL,
    name text NOT NULL,
    code text,
    unit text NOT NULL,
    system text,
    attributes jsonb NOT NULL DEFAULT '{}',
    weight_kg numeric(12, 4),
    archived_at timestamptz,
    created_at timestamptz NOT NULL DEFAULT now(),
    version integer NOT NULL DEFAULT 1,
    PRIMARY KEY (org_id, id),
    UNIQUE (org_id, name)
);
CREATE INDEX products_org_id_role_idx ON products (org_id, role);

CREATE TABLE price_lists (
    org_id uuid NOT NULL REFERENCES organisations,
    id uuid NOT NULL,
    supplier_id uuid NOT NULL,
    name text NOT NULL,
    kind text NOT NULL DEFAULT 'regular' CHECK (kind IN ('regular', 'promotion', 'job_offer')),
    priority integer NOT NULL DEFAULT 0,
    valid_from date NOT NULL,
    valid_until date,
    state text NOT NULL DEFAULT 'draft' CHECK (state IN ('draft', 'active', 'withdrawn')),
    activated_at timestamptz,
    created_at timestamptz NOT NULL DEFAULT now(),
    version integer NOT NULL DEFAULT 1,
    PRIMARY KEY (org_id, id),
    FOREIGN KEY (org_id, supplier_id) REFERENCES suppliers,
    CONSTRAINT price_lists_period_check CHECK (valid_until >= valid_from)
);
CREATE UNIQUE INDEX price_lists_one_active_idx
    ON price_lists (org_id, supplier_id, kind, valid_from) WHERE state = 'active';

CREATE TABLE price_items (
    org_id uuid NOT NULL REFERENCES organisations,
    id uuid NOT NULL,
    price_list_id uuid NOT NULL,
    product_id uuid NOT NULL,
    pack_size numeric(14, 4) NOT NULL,
    min_packs integer NOT NULL DEFAULT 1,
    price numeric(14, 4) NOT NULL,
    created_at timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (org_id, id),
    FOREIGN KEY (org_id, price_list_id) REFERENCES price_lists ON DELETE CASCADE,
    FOREIGN KEY (org_id, product_id) REFERENCES products,
    CONSTRAINT price_items_one_price_key UNIQUE (org_id, price_list_id, product_id, pack_size, min_packs),
    CONSTRAINT price_items_figures_check CHECK (pack_size > 0 AND min_packs >= 1 AND price >= 0)
);
CREATE INDEX price_items_org_id_product_id_idx ON price_items (org_id, product_id);

CREATE TABLE labour_tables (
    org_id uuid NOT NULL REFERENCES organisations,
    id uuid NOT NULL,
    name text NOT NULL,
    valid_from date NOT NULL,
    crew integer NOT NULL,
    productive_hours_per_day numeric(6, 3) NOT NULL,
    minimum_hours numeric(6, 3) NOT NULL,
    hourly_cost numeric(14, 4) NOT NULL,
    currency char(3) NOT NULL,
    created_at timestamptz NOT NULL DEFAULT now(),
    version integer NOT NULL DEFAULT 1,
    PRIMARY KEY (org_id, id),
    UNIQUE (org_id, name, valid_from)
);

CREATE TABLE labour_rates (
    org_id uuid NOT NULL REFERENCES organisations,
    labour_table_id uuid NOT NULL,
    activity text NOT NULL,
    driver text NOT NULL,
    unit text NOT NULL,
    hours numeric(12, 6) NOT NULL,
    created_at timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (org_id, labour_table_id, activity),
    FOREIGN KEY (org_id, labour_table_id) REFERENCES labour_tables ON DELETE CASCADE
);

CREATE TABLE quotes (
    org_id uuid NOT NULL REFERENCES organisations,
    id uuid NOT NULL,
    number text,
    state text NOT NULL DEFAULT 'draft'
        CHECK (state IN ('draft', 'issued', 'accepted', 'declined', 'withdrawn', 'expired')),
    current_revision integer NOT NULL,
    customer_id uuid,
    prices_changed_at timestamptz,
    created_at timestamptz NOT NULL DEFAULT now(),
    version integer NOT NULL DEFAULT 1,
    PRIMARY KEY (org_id, id),
    FOREIGN KEY (org_id, customer_id) REFERENCES customers,
    UNIQUE (org_id, number)
);
CREATE INDEX quotes_org_id_created_at_id_idx ON quotes (org_id, created_at, id);

CREATE TABLE quote_revisions (
    org_id uuid NOT NULL REFERENCES organisations,
    quote_id uuid NOT NULL,
    revision integer NOT NULL,
    state text NOT NULL DEFAULT 'draft'
        CHECK (state IN ('draft', 'issued', 'accepted', 'declined', 'withdrawn', 'expired', 'superseded')),
    request jsonb NOT NULL,
    takeoff jsonb NOT NULL,
    priced jsonb NOT NULL,
    basis jsonb NOT NULL,
    price_date date NOT NULL,
    valid_until date,
    currency char(3) NOT NULL,
    net numeric(14, 2),
    tax numeric(14, 2),
    gross numeric(14, 2),
    trade_edition text NOT NULL,
    labour_table_id uuid,
    terms_id uuid,
    engine_version text NOT NULL,
    created_at timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (org_id, quote_id, revision),
    FOREIGN KEY (org_id, quote_id) REFERENCES quotes,
    FOREIGN KEY (org_id, labour_table_id) REFERENCES labour_tables,
    FOREIGN KEY (org_id, terms_id) REFERENCES terms
);

CREATE TABLE quote_lines (
    org_id uuid NOT NULL REFERENCES organisations,
    quote_id uuid NOT NULL,
    revision integer NOT NULL,
    position integer NOT NULL,
    kind text NOT NULL CHECK (kind IN ('material', 'labour', 'delivery', 'adjustment')),
    role text NOT NULL,
    description text NOT NULL,
    supplier_id uuid,
    product_id uuid,
    price_list_id uuid,
    packs integer,
    pack_size numeric(14, 4),
    quantity numeric(14, 4) NOT NULL,
    unit text NOT NULL,
    cost numeric(14, 4) NOT NULL,
    price numeric(14, 4) NOT NULL,
    amount numeric(14, 4) NOT NULL,
    created_at timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (org_id, quote_id, revision, position),
    FOREIGN KEY (org_id, quote_id, revision) REFERENCES quote_revisions,
    FOREIGN KEY (org_id, supplier_id) REFERENCES suppliers,
    FOREIGN KEY (org_id, product_id) REFERENCES products,
    FOREIGN KEY (org_id, price_list_id) REFERENCES price_lists
);
CREATE INDEX quote_lines_org_id_product_id_idx ON quote_lines (org_id, product_id);

CREATE TABLE quote_counters (
    org_id uuid NOT NULL REFERENCES organisations,
    year integer NOT NULL,
    last integer NOT NULL,
    created_at timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (org_id, year)
);
"""

NAMES = (
    "organisations", "api_keys", "customers", "terms", "idempotency_keys", "suppliers", "products", "price_lists",
    "price_items", "labour_tables", "labour_rates", "quotes", "quote_revisions", "quote_lines", "quote_counters",
)
UNCHANGED = ("price_items", "quote_lines")
REMOVABLE = (
    "customers", "terms", "idempotency_keys", "price_lists", "price_items", "labour_tables", "labour_rates",
)
ROLES = "office_app, office_batch"

# nullif: on a connection that has been used before, a setting that is not set reads '' and not null
WALL = """
ALTER TABLE {table} ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY own_organisation ON {table}
    USING (org_id = nullif(current_setting('app.org', true), '')::uuid)
    WITH CHECK (org_id = nullif(current_setting('app.org', true), '')::uuid);
GRANT SELECT, INSERT ON {table} TO {roles};
"""

DOORS = """
-- who holds a key finds its row, and by it the organisation
CREATE POLICY by_possession ON api_keys FOR SELECT
    USING (key_hash = nullif(current_setting('app.key_hash', true), ''));
-- expired answers are cleared away for all organisations at once
CREATE POLICY expired_seen ON idempotency_keys FOR SELECT TO office_batch USING (expires_at < now());
CREATE POLICY expired_purged ON idempotency_keys FOR DELETE TO office_batch USING (expires_at < now());
"""

TRIGGERS = """
CREATE FUNCTION prices_stay_as_activated() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE list_state text;
BEGIN
    -- the share lock makes an activation under way finish first, so that nothing slips in beside it
    FOR list_state IN
        SELECT state FROM price_lists
        WHERE (org_id, id) IN (SELECT DISTINCT org_id, price_list_id FROM changed)
        FOR SHARE
    LOOP
        IF list_state <> 'draft' THEN
            RAISE integrity_constraint_violation USING
                MESSAGE = 'prices of an activated list are never edited',
                CONSTRAINT = 'prices_stay_as_activated', TABLE = TG_TABLE_NAME;
        END IF;
    END LOOP;
    RETURN NULL;
END $$;
CREATE TRIGGER inserted AFTER INSERT ON price_items
    REFERENCING NEW TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION prices_stay_as_activated();
CREATE TRIGGER updated_from AFTER UPDATE ON price_items
    REFERENCING OLD TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION prices_stay_as_activated();
CREATE TRIGGER updated_to AFTER UPDATE ON price_items
    REFERENCING NEW TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION prices_stay_as_activated();
CREATE TRIGGER deleted AFTER DELETE ON price_items
    REFERENCING OLD TABLE AS changed FOR EACH STATEMENT EXECUTE FUNCTION prices_stay_as_activated();

CREATE FUNCTION lists_stay_as_activated() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE may_change text[] := '{state,valid_until,version}';
BEGIN
    IF OLD.state <> 'draft' AND (
        TG_OP = 'DELETE' OR NEW.state = 'draft' OR (OLD.state = 'withdrawn' AND NEW.state = 'active')
        OR to_jsonb(NEW) - may_change <> to_jsonb(OLD) - may_change
    ) THEN
        RAISE integrity_constraint_violation USING
            MESSAGE = 'an activated price list can only end or be withdrawn',
            CONSTRAINT = 'lists_stay_as_activated', TABLE = TG_TABLE_NAME;
    END IF;
    RETURN CASE TG_OP WHEN 'DELETE' THEN OLD ELSE NEW END;
END $$;
CREATE TRIGGER changed BEFORE UPDATE OR DELETE ON price_lists
    FOR EACH ROW EXECUTE FUNCTION lists_stay_as_activated();

CREATE FUNCTION stored_quotes_stay() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF TG_OP = 'DELETE' OR to_jsonb(NEW) - 'state' <> to_jsonb(OLD) - 'state' THEN
        RAISE integrity_constraint_violation USING
            MESSAGE = 'a stored revision never changes, a new one is written instead',
            CONSTRAINT = 'stored_quotes_stay', TABLE = TG_TABLE_NAME;
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER changed BEFORE UPDATE OR DELETE ON quote_revisions
    FOR EACH ROW EXECUTE FUNCTION stored_quotes_stay();
CREATE TRIGGER changed BEFORE UPDATE OR DELETE ON quote_lines
    FOR EACH ROW EXECUTE FUNCTION stored_quotes_stay();
"""


def upgrade() -> None:
    op.execute(TABLES)
    op.execute(f"GRANT SELECT ON alembic_version TO {ROLES}")  # so that the service can tell whether it fits
    for table in NAMES:
        op.execute(WALL.format(table=table, roles=ROLES))
    for table in NAMES:
        if table not in UNCHANGED:
            op.execute(f"GRANT UPDATE ON {table} TO {ROLES}")
    for table in REMOVABLE:
        op.execute(f"GRANT DELETE ON {table} TO {ROLES}")
    op.execute(DOORS)
    op.execute(TRIGGERS)


def downgrade() -> None:
    for table in reversed(NAMES):
        op.execute(f"DROP TABLE {table}")
    for function in ("prices_stay_as_activated", "lists_stay_as_activated", "stored_quotes_stay"):
        op.execute(f"DROP FUNCTION {function}")
