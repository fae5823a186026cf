"""What stood in the letterhead and of the customer when an offer was made, kept by the database as it is issued."""

from __future__ import annotations

from alembic import op

revision = "0017"
down_revision = "0016"
branch_labels = None
depends_on = None

ROLES = "office_app, office_batch"

TABLE = f"""
CREATE TABLE quote_imprints (
    org_id uuid NOT NULL REFERENCES organisations,
    quote_id uuid NOT NULL,
    revision integer NOT NULL,
    office jsonb NOT NULL,
    customer jsonb,
    created_at timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (org_id, quote_id, revision),
    FOREIGN KEY (org_id, quote_id, revision) REFERENCES quote_revisions
);
ALTER TABLE quote_imprints ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY own_organisation ON quote_imprints
    USING (org_id = nullif(current_setting('app.org', true), '')::uuid)
    WITH CHECK (org_id = nullif(current_setting('app.org', true), '')::uuid);
GRANT SELECT ON quote_imprints TO {ROLES};
GRANT UPDATE (customer) ON quote_imprints TO office_app;
CREATE TRIGGER emptied BEFORE TRUNCATE ON quote_imprints
    FOR EACH STATEMENT EXECUTE FUNCTION stored_quotes_are_final();
"""

# the customer is locked, so that an erasure comes before the imprint is taken or finds it
KEEPING = """
CREATE FUNCTION imprint_of(of_org uuid, of_quote uuid, of_revision integer) RETURNS void
LANGUAGE sql SET search_path = public, pg_temp AS $$
    INSERT INTO quote_imprints (org_id, quote_id, revision, office, customer)
    SELECT r.org_id, r.quote_id, r.revision,
        jsonb_build_object('name', o.name, 'time_zone', o.time_zone, 'letterhead', o.letterhead),
        CASE WHEN c.id IS NOT NULL THEN jsonb_build_object('kind', c.kind, 'locale', c.locale)
            || CASE WHEN c.erased_at IS NULL
                THEN jsonb_build_object('name', c.name, 'address', c.address, 'tax_number', c.tax_number)
                ELSE '{}' END
        END
    FROM quote_revisions AS r JOIN organisations AS o ON o.org_id = r.org_id
        LEFT JOIN customers AS c ON c.org_id = r.org_id AND c.id = r.customer_id
    WHERE r.org_id = of_org AND r.quote_id = of_quote AND r.revision = of_revision
$$;

CREATE FUNCTION quote_is_imprinted() RETURNS trigger LANGUAGE plpgsql
    SECURITY DEFINER SET search_path = public, pg_temp AS $$
BEGIN
    PERFORM FROM customers WHERE org_id = NEW.org_id AND id = (
        SELECT customer_id FROM quote_revisions
        WHERE org_id = NEW.org_id AND quote_id = NEW.quote_id AND revision = NEW.revision
    ) FOR SHARE;
    PERFORM imprint_of(NEW.org_id, NEW.quote_id, NEW.revision);
    RETURN NULL;
END $$;
REVOKE EXECUTE ON FUNCTION imprint_of, quote_is_imprinted FROM PUBLIC;
CREATE TRIGGER imprinted AFTER INSERT ON quote_events
    FOR EACH ROW WHEN (NEW.kind = 'issued') EXECUTE FUNCTION quote_is_imprinted();
"""

# runs as whoever updates; no table of theirs may stand before the ones that it asks
DOOR = """
CREATE FUNCTION imprints_are_final() RETURNS trigger LANGUAGE plpgsql SET search_path = public, pg_temp AS $$
DECLARE
    words CONSTANT text[] := ARRAY['name', 'address', 'tax_number'];
BEGIN
    IF TG_OP = 'UPDATE' AND to_jsonb(NEW) - 'customer' = to_jsonb(OLD) - 'customer'
        AND NEW.customer = OLD.customer - words
        AND EXISTS (
            SELECT FROM quote_revisions AS of JOIN customers ON (customers.org_id, customers.id) = (of.org_id, of.customer_id)
            WHERE (of.org_id, of.quote_id, of.revision) = (OLD.org_id, OLD.quote_id, OLD.revision)
                AND customers.erased_at IS NOT NULL
        )
    THEN
        RETURN NEW;
    END IF;
    RAISE integrity_constraint_violation USING
        MESSAGE = 'what is stored of a quote never changes, more is written instead',
        CONSTRAINT = 'stored_quotes_are_final', TABLE = TG_TABLE_NAME;
END $$;
CREATE TRIGGER changed BEFORE UPDATE OR DELETE ON quote_imprints
    FOR EACH ROW EXECUTE FUNCTION imprints_are_final();
"""

# of offers of before there is nothing better than what stands today
CARRY_OVER = """
SELECT imprint_of(org_id, quote_id, revision) FROM quote_events WHERE kind = 'issued'
"""
READ = ("quote_events", "quote_revisions", "organisations", "customers", "quote_imprints")

BACK = """
DROP TRIGGER imprinted ON quote_events;
DROP FUNCTION quote_is_imprinted, imprint_of;
DROP TABLE quote_imprints;
DROP FUNCTION imprints_are_final;
"""


def _walls(forced: bool) -> None:
    """The owner is walled off like everybody; to carry rows over it steps past the wall for a moment."""
    for table in READ:
        op.execute(f"ALTER TABLE {table} {'FORCE' if forced else 'NO FORCE'} ROW LEVEL SECURITY")


def upgrade() -> None:
    op.execute(TABLE)
    op.execute(KEEPING)
    op.execute("SET CONSTRAINTS ALL IMMEDIATE")
    _walls(False)
    op.execute(CARRY_OVER)
    _walls(True)
    op.execute(DOOR)


def downgrade() -> None:
    op.execute(BACK)
