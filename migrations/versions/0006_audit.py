"""Who changed what a price comes from, and when: rows that triggers write and nobody can change."""

from __future__ import annotations

from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

TABLE = """
CREATE TABLE audit_entries (
    org_id uuid NOT NULL REFERENCES organisations,
    id uuid NOT NULL DEFAULT gen_random_uuid(),
    key_id uuid,
    action text NOT NULL,
    subject text NOT NULL,
    subject_id uuid NOT NULL,
    old jsonb,
    new jsonb,
    created_at timestamptz NOT NULL DEFAULT clock_timestamp(),
    PRIMARY KEY (org_id, id)
);
CREATE INDEX audit_entries_org_id_created_at_id_idx ON audit_entries (org_id, created_at, id);
CREATE INDEX audit_entries_subject_idx ON audit_entries (org_id, subject, subject_id, created_at);

ALTER TABLE audit_entries ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY own_organisation ON audit_entries
    USING (org_id = nullif(current_setting('app.org', true), '')::uuid)
    WITH CHECK (org_id = nullif(current_setting('app.org', true), '')::uuid);
GRANT SELECT ON audit_entries TO office_app, office_batch;

CREATE FUNCTION audit_stays() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE integrity_constraint_violation USING
        MESSAGE = 'what was done stays on record', CONSTRAINT = 'audit_stays', TABLE = TG_TABLE_NAME;
END $$;
CREATE TRIGGER changed BEFORE UPDATE OR DELETE ON audit_entries
    FOR EACH STATEMENT EXECUTE FUNCTION audit_stays();
"""

# SECURITY DEFINER: the service's roles may read the record and have no right to write it.
FUNCTIONS = """
CREATE FUNCTION note_change(
    of_org uuid, what_action text, what_subject text, which uuid, was jsonb, becomes jsonb
) RETURNS void
LANGUAGE sql SECURITY DEFINER SET search_path = public, pg_temp AS $$
    INSERT INTO audit_entries (org_id, key_id, action, subject, subject_id, old, new) VALUES (
        of_org, nullif(current_setting('app.key', true), '')::uuid, what_action, what_subject, which, was, becomes
    )
$$;

-- decimals as strings, since many a reader of JSON makes floats of them
CREATE FUNCTION told_exactly(of_row jsonb) RETURNS jsonb LANGUAGE sql IMMUTABLE STRICT AS $$
    SELECT coalesce(jsonb_object_agg(key, CASE
        WHEN jsonb_typeof(value) = 'number' AND value::text LIKE '%.%' THEN to_jsonb(value::text) ELSE value
    END), '{}') FROM jsonb_each(of_row)
$$;

CREATE FUNCTION other_values(mine jsonb, theirs jsonb) RETURNS jsonb LANGUAGE sql IMMUTABLE AS $$
    SELECT coalesce(jsonb_object_agg(key, value), '{}') FROM jsonb_each(mine)
    WHERE theirs -> key IS DISTINCT FROM value
$$;

-- the activated list against the one of its supplier and kind that it follows
CREATE FUNCTION activated_prices(of_org uuid, activated uuid, most integer) RETURNS jsonb
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = public, pg_temp AS $$
    WITH former AS (
        SELECT f.id FROM price_lists f JOIN price_lists a
            ON (a.org_id, a.id) = (of_org, activated) AND (f.org_id, f.supplier_id, f.kind) = (a.org_id, a.supplier_id, a.kind)
        WHERE f.id <> a.id AND f.state = 'active' AND f.valid_from <= a.valid_from
        ORDER BY f.valid_from DESC, f.activated_at DESC, f.id LIMIT 1
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
        'gone', count(*) FILTER (WHERE becomes IS NULL),
        'changed', count(*) FILTER (WHERE was <> becomes),
        'changes', (SELECT coalesce(jsonb_agg(jsonb_build_object(
            'product_id', product_id, 'pack_size', pack_size::text, 'min_packs', min_packs,
            'old', was::text, 'new', becomes::text
        )), '[]') FROM changes)
    ) FROM compared
$$;

CREATE FUNCTION note_row_change() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp AS $$
DECLARE
    hidden text[] := ARRAY['org_id', 'id', 'created_at', 'version'] || TG_ARGV[1]::text[];
    was jsonb := CASE WHEN TG_OP <> 'INSERT' THEN told_exactly(to_jsonb(OLD)) END;
    becomes jsonb := CASE WHEN TG_OP <> 'DELETE' THEN told_exactly(to_jsonb(NEW)) END;
    of_row jsonb := coalesce(becomes, was);
    which uuid := coalesce(of_row ->> 'id', of_row ->> 'org_id');
    what text := CASE TG_OP WHEN 'INSERT' THEN 'created' WHEN 'DELETE' THEN 'removed' ELSE 'changed' END;
    before jsonb := was - hidden;
BEGIN
    becomes := becomes - hidden;
    IF TG_OP = 'UPDATE' THEN
        was := other_values(before, becomes);
        becomes := other_values(becomes, before);
        IF was = '{}' AND becomes = '{}' THEN
            RETURN NULL;
        END IF;
        IF becomes ->> 'archived_at' IS NOT NULL THEN
            what := 'archived';
        ELSIF becomes ->> 'state' = 'active' THEN
            what := 'activated';
            becomes := becomes || jsonb_build_object('prices', activated_prices((of_row ->> 'org_id')::uuid, which, 200));
        ELSIF becomes ? 'state' THEN
            what := becomes ->> 'state';
        END IF;
    ELSE
        was := before;
    END IF;
    PERFORM note_change((of_row ->> 'org_id')::uuid, what, TG_ARGV[0], which, was, becomes);
    RETURN NULL;
END $$;

CREATE FUNCTION note_items_change() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp AS $$
BEGIN
    PERFORM note_change(
        org_id, TG_ARGV[0], 'price_list', price_list_id,
        CASE WHEN TG_OP = 'DELETE' THEN counted END, CASE WHEN TG_OP <> 'DELETE' THEN counted END
    ) FROM (
        SELECT org_id, price_list_id, jsonb_build_object('items', count(*)) AS counted
        FROM changed GROUP BY org_id, price_list_id
    ) AS by_list;
    RETURN NULL;
END $$;

CREATE FUNCTION note_rates_change() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp AS $$
BEGIN
    PERFORM note_change(
        org_id, TG_ARGV[0], 'labour_table', labour_table_id,
        CASE WHEN TG_ARGV[1] = 'old' THEN told END, CASE WHEN TG_ARGV[1] = 'new' THEN told END
    ) FROM (
        SELECT org_id, labour_table_id, jsonb_agg(
            told_exactly(to_jsonb(changed)) - ARRAY['org_id', 'labour_table_id', 'created_at']
            ORDER BY to_jsonb(changed) ->> 'activity'
        ) AS told FROM changed GROUP BY org_id, labour_table_id
    ) AS by_table;
    RETURN NULL;
END $$;
REVOKE EXECUTE ON FUNCTION note_change, activated_prices, note_row_change, note_items_change, note_rates_change
    FROM PUBLIC;
"""
HELD = {
    "suppliers": "supplier",
    "products": "product",
    "price_lists": "price_list",
    "agreements": "agreement",
    "labour_tables": "labour_table",
    "terms": "terms",
    "tax_rules": "tax",
    "exchange_rates": "exchange_rate",
}
"""The tables of which each row's change is noted, and the word for such a row."""
ROW = """
CREATE TRIGGER noted AFTER INSERT OR UPDATE OR DELETE ON {table}
    FOR EACH ROW EXECUTE FUNCTION note_row_change('{subject}', '{{}}');
"""
# the organisation's own trade values, currency and limits; its letterhead and numbering make no price
OFFICE = """
CREATE TRIGGER noted AFTER UPDATE ON organisations FOR EACH ROW
    EXECUTE FUNCTION note_row_change('organisation', '{letterhead,number_prefix,time_zone}');
"""
MANY = """
CREATE TRIGGER noted_insert AFTER INSERT ON {table} REFERENCING NEW TABLE AS changed
    FOR EACH STATEMENT EXECUTE FUNCTION {function}('{what}_written', 'new');
CREATE TRIGGER noted_update_from AFTER UPDATE ON {table} REFERENCING OLD TABLE AS changed
    FOR EACH STATEMENT EXECUTE FUNCTION {function}('{what}_changed', 'old');
CREATE TRIGGER noted_update_to AFTER UPDATE ON {table} REFERENCING NEW TABLE AS changed
    FOR EACH STATEMENT EXECUTE FUNCTION {function}('{what}_changed', 'new');
CREATE TRIGGER noted_delete AFTER DELETE ON {table} REFERENCING OLD TABLE AS changed
    FOR EACH STATEMENT EXECUTE FUNCTION {function}('{what}_removed', 'old');
"""
WRITTEN_TOGETHER = {
    "price_items": ("note_items_change", "prices"),
    "labour_rates": ("note_rates_change", "rates"),
}
FUNCTION_NAMES = (
    "note_row_change, note_items_change, note_rates_change, activated_prices, other_values, told_exactly,"
    " note_change"
)


def upgrade() -> None:
    op.execute(TABLE)
    op.execute(FUNCTIONS)
    for table, subject in HELD.items():
        op.execute(ROW.format(table=table, subject=subject))
    op.execute(OFFICE)
    for table, (function, what) in WRITTEN_TOGETHER.items():
        op.execute(MANY.format(table=table, function=function, what=what))


def downgrade() -> None:
    for table in (*HELD, "organisations"):
        op.execute(f"DROP TRIGGER noted ON {table}")
    for table in WRITTEN_TOGETHER:
        for event in ("insert", "update_from", "update_to", "delete"):
            op.execute(f"DROP TRIGGER noted_{event} ON {table}")
    op.execute(f"DROP FUNCTION {FUNCTION_NAMES}")
    op.execute("DROP TABLE audit_entries")
    op.execute("DROP FUNCTION audit_stays")
