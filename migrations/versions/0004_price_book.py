"""How a price came (list price, percent, unit), when a list holds, offers for one job by reference, agreements with suppliers."""

from __future__ import annotations

from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

ROLES = "office_app, office_batch"

UP = """
ALTER TABLE organisations ADD COLUMN price_jump_percent numeric(9, 4) NOT NULL DEFAULT 40;

ALTER TABLE suppliers
    ADD COLUMN freight_per_kg numeric(14, 4) NOT NULL DEFAULT 0,
    ADD COLUMN carry_in numeric(14, 4) NOT NULL DEFAULT 0,
    ADD COLUMN split_pack_surcharge numeric(14, 4) NOT NULL DEFAULT 0,
    ADD COLUMN restocking_percent numeric(7, 4) NOT NULL DEFAULT 0;

ALTER TABLE products ADD COLUMN pack_content numeric(14, 4);
CREATE INDEX products_org_id_code_idx ON products (org_id, code);

ALTER TABLE price_lists
    ADD COLUMN reference text,
    ADD COLUMN list_percent numeric(7, 4),
    ADD COLUMN discounts jsonb NOT NULL DEFAULT '{}',
    ADD COLUMN holds_from timestamptz,
    ADD COLUMN withdrawn_at timestamptz,
    ADD COLUMN rejected_rows integer NOT NULL DEFAULT 0,
    ADD CONSTRAINT price_lists_job_offer_check CHECK (
        (kind = 'job_offer') = (reference IS NOT NULL) AND (kind <> 'job_offer' OR valid_until IS NOT NULL)
    );
DROP INDEX price_lists_one_active_idx;
CREATE UNIQUE INDEX price_lists_one_active_idx
    ON price_lists (org_id, supplier_id, kind, valid_from, reference) NULLS NOT DISTINCT
    WHERE state = 'active';

ALTER TABLE price_items
    ALTER COLUMN price TYPE numeric,
    ADD COLUMN list_price numeric(14, 4),
    ADD COLUMN per text NOT NULL DEFAULT 'pack' CHECK (per IN ('pack', 'unit', 'm2')),
    ADD COLUMN priced_units numeric(14, 4) NOT NULL DEFAULT 1,
    ADD COLUMN percent numeric(7, 4) NOT NULL DEFAULT 0,
    ADD COLUMN percent_from text CHECK (percent_from IN ('item', 'group', 'list')),
    ADD COLUMN discount_group text,
    ADD COLUMN split boolean NOT NULL DEFAULT false,
    DROP CONSTRAINT price_items_figures_check,
    ADD CONSTRAINT price_items_figures_check CHECK (
        pack_size > 0 AND min_packs >= 1 AND price >= 0 AND price < 1e10 AND scale(price) <= 14
        AND list_price >= 0 AND priced_units > 0 AND percent BETWEEN 0 AND 100
    ),
    ADD CONSTRAINT price_items_sum_check CHECK (price = list_price * priced_units * (100 - percent) * 0.01);
ALTER TABLE quote_lines ALTER COLUMN cost TYPE numeric;

CREATE TABLE agreements (
    org_id uuid NOT NULL REFERENCES organisations,
    id uuid NOT NULL,
    supplier_id uuid NOT NULL,
    name text NOT NULL,
    product_id uuid,
    role text,
    percent numeric(7, 4),
    price numeric(14, 4),
    pack_size numeric(14, 4),
    valid_from date NOT NULL,
    valid_until date,
    created_at timestamptz NOT NULL DEFAULT now(),
    version integer NOT NULL DEFAULT 1,
    PRIMARY KEY (org_id, id),
    FOREIGN KEY (org_id, supplier_id) REFERENCES suppliers,
    FOREIGN KEY (org_id, product_id) REFERENCES products,
    CONSTRAINT agreements_subject_check CHECK (num_nonnulls(product_id, role) = 1),
    CONSTRAINT agreements_figures_check CHECK (
        num_nonnulls(percent, price) = 1 AND (price IS NULL) = (pack_size IS NULL)
        AND (price IS NULL OR product_id IS NOT NULL)
        AND percent BETWEEN 0 AND 100 AND price >= 0 AND pack_size > 0
    ),
    CONSTRAINT agreements_period_check CHECK (valid_until >= valid_from)
);
CREATE INDEX agreements_org_id_supplier_id_idx ON agreements (org_id, supplier_id);
"""

WALL = """
ALTER TABLE agreements ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY own_organisation ON agreements
    USING (org_id = nullif(current_setting('app.org', true), '')::uuid)
    WITH CHECK (org_id = nullif(current_setting('app.org', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE ON agreements TO {roles};
"""

LISTS_STAY = """
CREATE OR REPLACE FUNCTION lists_stay_as_activated() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE may_change text[] := '{may_change}';
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
"""

AGREEMENTS_STAY = """
CREATE FUNCTION agreements_stay() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE may_change text[] := '{valid_until,version}';
BEGIN
    IF TG_OP = 'DELETE' OR to_jsonb(NEW) - may_change <> to_jsonb(OLD) - may_change THEN
        RAISE integrity_constraint_violation USING
            MESSAGE = 'an agreement can only end; another one is written instead',
            CONSTRAINT = 'agreements_stay', TABLE = TG_TABLE_NAME;
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER changed BEFORE UPDATE OR DELETE ON agreements
    FOR EACH ROW EXECUTE FUNCTION agreements_stay();
"""

DOWN = """
DROP TABLE agreements;
DROP FUNCTION agreements_stay;
ALTER TABLE quote_lines ALTER COLUMN cost TYPE numeric(14, 4);
ALTER TABLE price_items
    DROP CONSTRAINT price_items_sum_check,
    DROP CONSTRAINT price_items_figures_check,
    DROP COLUMN list_price, DROP COLUMN per, DROP COLUMN priced_units, DROP COLUMN percent,
    DROP COLUMN percent_from, DROP COLUMN discount_group, DROP COLUMN split,
    ALTER COLUMN price TYPE numeric(14, 4),
    ADD CONSTRAINT price_items_figures_check CHECK (pack_size > 0 AND min_packs >= 1 AND price >= 0);
DROP INDEX price_lists_one_active_idx;
CREATE UNIQUE INDEX price_lists_one_active_idx
    ON price_lists (org_id, supplier_id, kind, valid_from) WHERE state = 'active';
ALTER TABLE price_lists
    DROP CONSTRAINT price_lists_job_offer_check,
    DROP COLUMN reference, DROP COLUMN list_percent, DROP COLUMN discounts, DROP COLUMN holds_from,
    DROP COLUMN withdrawn_at, DROP COLUMN rejected_rows;
DROP INDEX products_org_id_code_idx;
ALTER TABLE products DROP COLUMN pack_content;
ALTER TABLE suppliers
    DROP COLUMN freight_per_kg, DROP COLUMN carry_in, DROP COLUMN split_pack_surcharge,
    DROP COLUMN restocking_percent;
ALTER TABLE organisations DROP COLUMN price_jump_percent;
"""


def upgrade() -> None:
    op.execute(UP)
    op.execute(WALL.format(roles=ROLES))
    op.execute(LISTS_STAY.replace("{may_change}", "{state,valid_until,withdrawn_at,version}"))
    op.execute(AGREEMENTS_STAY)


def downgrade() -> None:
    op.execute(LISTS_STAY.replace("{may_change}", "{state,valid_until,version}"))
    op.execute(DOWN)
