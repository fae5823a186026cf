"""What held in the past stays: how lists and agreements end, what a price is in, and what its changes leave on record."""

from __future__ import annotations

from alembic import op

revision = "0015"
down_revision = "0014"
branch_labels = None
depends_on = None

DAY = """
CREATE FUNCTION office_day(of_org uuid) RETURNS date LANGUAGE sql STABLE AS $$
    SELECT (now() AT TIME ZONE time_zone)::date FROM organisations WHERE org_id = of_org
$$;

-- a last day only comes nearer, and never lies in the past: no day that is over is told otherwise
CREATE FUNCTION may_end(of_org uuid, was date, becomes date) RETURNS boolean LANGUAGE sql STABLE AS $$
    SELECT was IS NOT DISTINCT FROM becomes
        OR becomes IS NOT NULL AND becomes >= office_day(of_org) AND (was IS NULL OR becomes < was)
$$;
"""

LISTS = """
CREATE FUNCTION refuse_price_list(why text) RETURNS void LANGUAGE plpgsql AS $$
BEGIN
    RAISE integrity_constraint_violation USING
        MESSAGE = why, CONSTRAINT = 'lists_stay_as_activated', TABLE = 'price_lists';
END $$;

CREATE FUNCTION price_list_goes_on() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE may_change text[] := '{state,valid_until,withdrawn_at,version}';
BEGIN
    IF TG_OP = 'DELETE' THEN
        IF OLD.state <> 'draft' THEN
            PERFORM refuse_price_list('an activated price list can only end or be withdrawn');
        END IF;
        RETURN OLD;
    END IF;
    IF TG_OP = 'INSERT' OR (OLD.state = 'draft' AND NEW.state = 'draft') THEN
        IF NEW.state <> 'draft' OR num_nonnulls(NEW.activated_at, NEW.holds_from, NEW.withdrawn_at) > 0 THEN
            PERFORM refuse_price_list('a price list begins as a draft and holds from its activation');
        END IF;
    ELSIF OLD.state = 'draft' THEN
        NEW.activated_at := now();
        IF NEW.state <> 'active' OR NEW.withdrawn_at IS NOT NULL OR NEW.holds_from < now() THEN
            PERFORM refuse_price_list('a draft is activated, from now or a later moment on');
        END IF;
        -- a change of the supplier's currency under way is waited for, and waits for this
        PERFORM FROM suppliers WHERE org_id = NEW.org_id AND id = NEW.supplier_id FOR SHARE;
    ELSE
        IF OLD.state = 'active' AND NEW.state = 'withdrawn' THEN
            NEW.withdrawn_at := now();
        ELSIF NEW.state <> OLD.state OR NEW.withdrawn_at IS DISTINCT FROM OLD.withdrawn_at
            OR (OLD.state = 'withdrawn' AND NEW.valid_until IS DISTINCT FROM OLD.valid_until)
        THEN
            PERFORM refuse_price_list('an activated price list can only end or be withdrawn');
        END IF;
        IF to_jsonb(NEW) - may_change <> to_jsonb(OLD) - may_change
            OR NOT may_end(NEW.org_id, OLD.valid_until, NEW.valid_until)
        THEN
            PERFORM refuse_price_list('an activated price list can only end or be withdrawn, from today on');
        END IF;
    END IF;
    RETURN NEW;
END $$;
DROP TRIGGER changed ON price_lists;
CREATE TRIGGER changed BEFORE INSERT OR UPDATE OR DELETE ON price_lists
    FOR EACH ROW EXECUTE FUNCTION price_list_goes_on();
"""

AGREEMENTS = """
CREATE FUNCTION agreement_goes_on() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE may_change text[] := '{valid_until,version}';
BEGIN
    IF TG_OP = 'INSERT' THEN
        NEW.created_at := now();
        RETURN NEW;
    END IF;
    IF TG_OP = 'DELETE' OR to_jsonb(NEW) - may_change <> to_jsonb(OLD) - may_change
        OR NOT may_end(NEW.org_id, OLD.valid_until, NEW.valid_until)
    THEN
        RAISE integrity_constraint_violation USING
            MESSAGE = 'an agreement can only end, earlier than it did and not before today',
            CONSTRAINT = 'agreements_stay', TABLE = TG_TABLE_NAME;
    END IF;
    RETURN NEW;
END $$;
DROP TRIGGER changed ON agreements;
CREATE TRIGGER changed BEFORE INSERT OR UPDATE OR DELETE ON agreements
    FOR EACH ROW EXECUTE FUNCTION agreement_goes_on();
"""

MEANING = """
CREATE FUNCTION prices_stay_in_their_currency() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF EXISTS (
        SELECT FROM price_lists WHERE org_id = OLD.org_id AND supplier_id = OLD.id AND state <> 'draft'
    ) THEN
        RAISE integrity_constraint_violation USING
            MESSAGE = 'activated prices stay in the currency that they were stated in',
            CONSTRAINT = 'prices_stay_in_their_currency', TABLE = TG_TABLE_NAME, COLUMN = 'currency';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER meaning BEFORE UPDATE ON suppliers
    FOR EACH ROW WHEN (OLD.currency <> NEW.currency) EXECUTE FUNCTION prices_stay_in_their_currency();

CREATE FUNCTION prices_stay_for_their_role() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF EXISTS (
        SELECT FROM price_items AS i JOIN price_lists AS l ON l.org_id = i.org_id AND l.id = i.price_list_id
        WHERE i.org_id = OLD.org_id AND i.product_id = OLD.id AND l.state <> 'draft'
    ) OR EXISTS (SELECT FROM quote_lines WHERE org_id = OLD.org_id AND product_id = OLD.id) THEN
        RAISE integrity_constraint_violation USING
            MESSAGE = 'activated prices stay for the role and unit that they were stated for',
            CONSTRAINT = 'prices_stay_for_their_role', TABLE = TG_TABLE_NAME,
            COLUMN = CASE WHEN OLD.role <> NEW.role THEN 'role' ELSE 'unit' END;
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER meaning BEFORE UPDATE ON products
    FOR EACH ROW WHEN (OLD.role <> NEW.role OR OLD.unit <> NEW.unit)
    EXECUTE FUNCTION prices_stay_for_their_role();
"""

# of a customer only what moves a price: the record outlives the person's data
RECORD = """
CREATE FUNCTION note_customer_change() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp AS $$
BEGIN
    IF TG_OP = 'INSERT' THEN
        PERFORM note_change(NEW.org_id, 'created', 'customer', NEW.id, NULL, jsonb_build_object('kind', NEW.kind));
    ELSIF TG_OP = 'DELETE' THEN
        PERFORM note_change(OLD.org_id, 'removed', 'customer', OLD.id, jsonb_build_object('kind', OLD.kind), NULL);
    ELSIF OLD.kind <> NEW.kind THEN
        PERFORM note_change(
            NEW.org_id, 'changed', 'customer', NEW.id,
            jsonb_build_object('kind', OLD.kind), jsonb_build_object('kind', NEW.kind)
        );
    END IF;
    RETURN NULL;
END $$;
CREATE TRIGGER noted AFTER INSERT OR UPDATE OR DELETE ON customers
    FOR EACH ROW EXECUTE FUNCTION note_customer_change();

CREATE FUNCTION note_prices_ended() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp AS $$
BEGIN
    PERFORM note_change(NEW.org_id, 'prices_ended', 'price_list', NEW.id, jsonb_build_object(
        'items', (SELECT count(*) FROM price_items WHERE org_id = NEW.org_id AND price_list_id = NEW.id),
        'prices', (SELECT coalesce(jsonb_agg(told), '[]') FROM (
            SELECT product_id, pack_size::text, min_packs, price::text FROM price_items
            WHERE org_id = NEW.org_id AND price_list_id = NEW.id
            ORDER BY product_id, price_items.pack_size, min_packs LIMIT 200
        ) AS told)
    ), NULL);
    RETURN NULL;
END $$;
CREATE TRIGGER noted_end AFTER UPDATE ON price_lists
    FOR EACH ROW WHEN (OLD.state = 'active' AND NEW.state = 'withdrawn') EXECUTE FUNCTION note_prices_ended();
REVOKE EXECUTE ON FUNCTION note_customer_change, note_prices_ended FROM PUBLIC;
"""

# only a regular list takes the place of the one before, so only there something can be gone
ACTIVATED = """
CREATE OR REPLACE FUNCTION activated_prices(of_org uuid, activated uuid, most integer) RETURNS jsonb
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = public, pg_temp AS $$
    WITH former AS (
        SELECT f.id FROM price_lists f JOIN price_lists a
            ON (a.org_id, a.id) = (of_org, activated) AND (f.org_id, f.supplier_id, f.kind) = (a.org_id, a.supplier_id, a.kind)
        WHERE f.id <> a.id AND f.state = 'active' AND f.valid_from <= a.valid_from
        ORDER BY {first}f.valid_from DESC, f.activated_at DESC, f.id LIMIT 1
    ), compared AS (
        SELECT product_id, pack_size, min_packs, o.price AS was, n.price AS becomes
        FROM (SELECT * FROM price_items WHERE org_id = of_org AND price_list_id = (SELECT id FROM former)) o
        FULL JOIN (SELECT * FROM price_items WHERE org_id = of_org AND price_list_id = activated) n
            USING (product_id, pack_size, min_packs)
    ), changes AS (
        SELECT * FROM compared WHERE was <> becomes ORDER BY product_id, pack_size, min_packs LIMIT most
    )
    SELECT jsonb_build_object(
        'former_list', (SELECT id FROM former),
        'items', count(becomes),
        'new', count(*) FILTER (WHERE was IS NULL),
        'gone', count(*) FILTER (WHERE becomes IS NULL{and_replaced}),
        'changed', count(*) FILTER (WHERE was <> becomes),
        'changes', (SELECT coalesce(jsonb_agg(jsonb_build_object(
            'product_id', product_id, 'pack_size', pack_size::text, 'min_packs', min_packs,
            'old', was::text, 'new', becomes::text
        )), '[]') FROM changes)
    ) FROM compared
$$;
"""
REPLACED = (
    " AND 'regular' = (SELECT kind FROM price_lists WHERE (price_lists.org_id, price_lists.id) = (of_org, activated))"
)

DOWN = """
DROP TRIGGER noted_end ON price_lists;
DROP TRIGGER noted ON customers;
DROP FUNCTION note_prices_ended, note_customer_change;
DROP TRIGGER meaning ON suppliers;
DROP TRIGGER meaning ON products;
DROP FUNCTION prices_stay_in_their_currency, prices_stay_for_their_role;
DROP TRIGGER changed ON agreements;
CREATE TRIGGER changed BEFORE UPDATE OR DELETE ON agreements FOR EACH ROW EXECUTE FUNCTION agreements_stay();
DROP TRIGGER changed ON price_lists;
CREATE TRIGGER changed BEFORE UPDATE OR DELETE ON price_lists
    FOR EACH ROW EXECUTE FUNCTION lists_stay_as_activated();
DROP FUNCTION agreement_goes_on, price_list_goes_on, refuse_price_list, may_end, office_day;
"""


def upgrade() -> None:
    for statement in (DAY, LISTS, AGREEMENTS, MEANING, RECORD):
        op.execute(statement)
    op.execute(ACTIVATED.replace("{first}", "f.priority DESC, ").replace("{and_replaced}", REPLACED))


def downgrade() -> None:
    op.execute(DOWN)
    op.execute(ACTIVATED.replace("{first}", "").replace("{and_replaced}", ""))
