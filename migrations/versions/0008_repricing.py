"""A revision's inputs and conditions as rows of their own, so that one with other prices repeats neither; its lines and totals whole in columns."""

from __future__ import annotations

from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None

ROLES = "office_app, office_batch"
NEW = ("quote_takeoffs", "quote_conditions")
SUMS = (
    "materials", "delivery", "labour", "contingency", "markup", "discount", "minimum_charge", "rounding",
    "deposit", "retention",
)
FIGURES = ("net", "tax", "gross")
LINE_FIGURES = ("pack_size", "quantity", "price", "amount")

WALL = """
ALTER TABLE {table} ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY own_organisation ON {table}
    USING (org_id = nullif(current_setting('app.org', true), '')::uuid)
    WITH CHECK (org_id = nullif(current_setting('app.org', true), '')::uuid);
GRANT SELECT, INSERT ON {table} TO {roles};
CREATE TRIGGER changed BEFORE UPDATE OR DELETE ON {table}
    FOR EACH ROW EXECUTE FUNCTION stored_quotes_are_final();
"""

TABLES = f"""
CREATE TABLE quote_takeoffs (
    org_id uuid NOT NULL REFERENCES organisations,
    id uuid NOT NULL,
    quote_id uuid NOT NULL,
    request jsonb NOT NULL,
    takeoff jsonb NOT NULL,
    basis jsonb NOT NULL,
    created_at timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (org_id, id),
    FOREIGN KEY (org_id, quote_id) REFERENCES quotes
);
CREATE INDEX quote_takeoffs_org_id_quote_id_idx ON quote_takeoffs (org_id, quote_id);

CREATE TABLE quote_conditions (
    org_id uuid NOT NULL REFERENCES organisations,
    id uuid NOT NULL,
    body jsonb NOT NULL,
    created_at timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (org_id, id)
);

ALTER TABLE quote_revisions
    ADD COLUMN takeoff_id uuid, ADD COLUMN conditions_id uuid, ADD COLUMN rest jsonb,
    {", ".join(f"ALTER COLUMN {name} TYPE numeric" for name in FIGURES)},
    {", ".join(f"ADD COLUMN {name} numeric" for name in SUMS)};
ALTER TABLE quote_lines
    {", ".join(f"ALTER COLUMN {name} TYPE numeric" for name in LINE_FIGURES)},
    ADD COLUMN uplift_group text,
    ADD COLUMN supplier_name text,
    ADD COLUMN allowance boolean NOT NULL DEFAULT false,
    ADD COLUMN note text NOT NULL DEFAULT '',
    ADD COLUMN rooms text[] NOT NULL DEFAULT '{{}}',
    ADD COLUMN needs integer[] NOT NULL DEFAULT '{{}}',
    ADD COLUMN cutting jsonb,
    ADD COLUMN exchange jsonb;
"""

PRICED = "('terms', 'exchange_rates')"
REST = "ARRAY['taxes', 'stages']"
# what a revision of before holds is told apart: conditions go by their content, a take-off by its revision
CARRY_OVER = f"""
CREATE FUNCTION parted(basis jsonb, priced boolean) RETURNS jsonb LANGUAGE sql IMMUTABLE AS $$
    SELECT coalesce(jsonb_object_agg(key, CASE WHEN key <> 'versions' THEN value WHEN priced
            THEN value - 'labour_table' ELSE value - ARRAY['terms', 'taxes', 'exchange_rates'] END), '{{}}')
    FROM jsonb_each(basis) WHERE key = 'versions' OR (key IN {PRICED}) = priced
$$;
CREATE FUNCTION content_uuid(content jsonb) RETURNS uuid LANGUAGE sql IMMUTABLE AS $$
    SELECT encode(substr(sha256(convert_to(content::text, 'UTF8')), 1, 16), 'hex')::uuid
$$;
CREATE FUNCTION texts(list jsonb) RETURNS text[] LANGUAGE sql IMMUTABLE AS $$
    SELECT coalesce(array_agg(value ORDER BY place), '{{}}')
    FROM jsonb_array_elements_text(list) WITH ORDINALITY AS each (value, place)
$$;
UPDATE quote_revisions SET takeoff_id = gen_random_uuid(), conditions_id = content_uuid(parted(basis, true)),
    rest = jsonb_strip_nulls(jsonb_build_object('taxes', priced -> 'totals' -> 'taxes', 'stages', priced -> 'totals' -> 'stages',
        'basket', priced -> 'basket', 'notices', priced -> 'notices')),
    {", ".join(f"{name} = (priced -> 'totals' ->> '{name}')::numeric" for name in (*SUMS, *FIGURES))};
INSERT INTO quote_takeoffs (org_id, id, quote_id, request, takeoff, basis, created_at)
    SELECT org_id, takeoff_id, quote_id, request, takeoff, parted(basis, false), created_at FROM quote_revisions;
INSERT INTO quote_conditions (org_id, id, body, created_at)
    SELECT org_id, conditions_id, parted(basis, true), min(created_at) FROM quote_revisions GROUP BY 1, 2, 3;
UPDATE quote_lines SET
    uplift_group = line ->> 'group',
    supplier_name = line ->> 'supplier_name',
    allowance = coalesce((line ->> 'allowance')::boolean, false),
    note = coalesce(line ->> 'note', ''),
    rooms = texts(line -> 'rooms'),
    needs = texts(line -> 'needs')::integer[],
    cutting = nullif(line -> 'cutting', 'null'),
    exchange = nullif(line -> 'exchange', 'null'),
    {", ".join(f"{name} = (line ->> '{name}')::numeric" for name in LINE_FIGURES)}
FROM quote_revisions AS of, jsonb_array_elements(of.priced -> 'lines') WITH ORDINALITY AS each (line, place)
WHERE of.org_id = quote_lines.org_id AND of.quote_id = quote_lines.quote_id
    AND of.revision = quote_lines.revision AND place = quote_lines.position;
DROP FUNCTION parted, content_uuid, texts;
"""  # noqa: S608

TIED = """
ALTER TABLE quote_revisions
    ALTER COLUMN takeoff_id SET NOT NULL, ALTER COLUMN conditions_id SET NOT NULL, ALTER COLUMN rest SET NOT NULL,
    DROP COLUMN request, DROP COLUMN takeoff, DROP COLUMN basis, DROP COLUMN priced,
    ADD FOREIGN KEY (org_id, takeoff_id) REFERENCES quote_takeoffs,
    ADD FOREIGN KEY (org_id, conditions_id) REFERENCES quote_conditions;
ALTER TABLE quote_lines ALTER COLUMN uplift_group SET NOT NULL;
"""

BACK = f"""
ALTER TABLE quote_revisions
    ADD COLUMN request jsonb, ADD COLUMN takeoff jsonb, ADD COLUMN basis jsonb, ADD COLUMN priced jsonb;
UPDATE quote_revisions SET request = t.request, takeoff = t.takeoff,
    basis = t.basis || c.body || jsonb_build_object('versions', coalesce(t.basis -> 'versions', '{{}}') || coalesce(c.body -> 'versions', '{{}}')),
    priced = CASE WHEN r.net IS NULL THEN '{{}}' ELSE jsonb_build_object(
        'currency', r.currency, 'gaps', '[]'::jsonb, 'basket', r.rest -> 'basket',
        'notices', coalesce(r.rest -> 'notices', '[]'),
        'totals', jsonb_build_object(
            'taxes', coalesce(r.rest -> 'taxes', '[]'), 'stages', coalesce(r.rest -> 'stages', '[]'),
            {", ".join(f"'{name}', r.{name}::text" for name in (*SUMS, *FIGURES))}
        ),
        'lines', (SELECT coalesce(jsonb_agg(jsonb_build_object(
            'kind', kind, 'role', role, 'description', description, 'group', uplift_group, 'unit', unit,
            'quantity', quantity::text, 'supplier', supplier_id, 'product', product_id, 'packs', packs,
            'pack_size', pack_size::text, 'cost', cost::text, 'price', price::text, 'amount', amount::text,
            'price_list', price_list_id, 'allowance', allowance, 'note', note, 'supplier_name', supplier_name,
            'rooms', to_jsonb(rooms), 'cutting', cutting, 'needs', to_jsonb(needs), 'exchange', exchange
        ) ORDER BY position), '[]') FROM quote_lines AS l
            WHERE l.org_id = r.org_id AND l.quote_id = r.quote_id AND l.revision = r.revision)
    ) END
FROM quote_revisions AS r
    JOIN quote_takeoffs AS t ON t.org_id = r.org_id AND t.id = r.takeoff_id
    JOIN quote_conditions AS c ON c.org_id = r.org_id AND c.id = r.conditions_id
WHERE r.org_id = quote_revisions.org_id AND r.quote_id = quote_revisions.quote_id
    AND r.revision = quote_revisions.revision;
ALTER TABLE quote_revisions
    ALTER COLUMN request SET NOT NULL, ALTER COLUMN takeoff SET NOT NULL, ALTER COLUMN basis SET NOT NULL,
    ALTER COLUMN priced SET NOT NULL,
    DROP COLUMN takeoff_id, DROP COLUMN conditions_id, DROP COLUMN rest,
    {", ".join(f"ALTER COLUMN {name} TYPE numeric(14, 4)" for name in FIGURES)},
    {", ".join(f"DROP COLUMN {name}" for name in SUMS)};
ALTER TABLE quote_lines
    {", ".join(f"ALTER COLUMN {name} TYPE numeric(14, 4)" for name in LINE_FIGURES)},
    DROP COLUMN uplift_group, DROP COLUMN supplier_name, DROP COLUMN allowance, DROP COLUMN note,
    DROP COLUMN rooms, DROP COLUMN needs, DROP COLUMN cutting, DROP COLUMN exchange;
DROP TABLE quote_takeoffs, quote_conditions;
"""  # noqa: S608

STORED = ("quote_revisions", "quote_lines")


def _open(tables: tuple[str, ...], opened: bool) -> None:
    """The owner steps past the walls and the triggers that keep what is stored, to carry rows over."""
    for table in tables:
        op.execute(f"ALTER TABLE {table} {'NO FORCE' if opened else 'FORCE'} ROW LEVEL SECURITY")
        op.execute(f"ALTER TABLE {table} {'DISABLE' if opened else 'ENABLE'} TRIGGER changed")


def upgrade() -> None:
    op.execute(TABLES)
    _open(STORED, True)
    op.execute(CARRY_OVER)
    op.execute("SET CONSTRAINTS ALL IMMEDIATE")
    op.execute(TIED)
    _open(STORED, False)
    for table in NEW:
        op.execute(WALL.format(table=table, roles=ROLES))


def downgrade() -> None:
    _open((*STORED, *NEW), True)
    op.execute(BACK)
    _open(STORED, False)
