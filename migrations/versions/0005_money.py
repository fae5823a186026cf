"""Exchange rates and taxes as the office keeps them, and rounding and sharing out as SQL functions that give what pricing gives."""

from __future__ import annotations

from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

TABLES = """
CREATE TABLE exchange_rates (
    org_id uuid NOT NULL REFERENCES organisations,
    id uuid NOT NULL,
    from_currency char(3) NOT NULL,
    to_currency char(3) NOT NULL,
    rate numeric(20, 10) NOT NULL,
    valid_from date NOT NULL,
    note text NOT NULL DEFAULT '',
    created_at timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (org_id, id),
    CONSTRAINT exchange_rates_pair_check CHECK (from_currency <> to_currency AND rate > 0)
);
CREATE INDEX exchange_rates_in_force_idx ON exchange_rates (org_id, to_currency, from_currency, valid_from);

CREATE TABLE tax_rules (
    org_id uuid NOT NULL REFERENCES organisations,
    id uuid NOT NULL,
    region text NOT NULL,
    valid_from date NOT NULL,
    rules jsonb NOT NULL,
    note text NOT NULL DEFAULT '',
    created_at timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (org_id, id)
);
CREATE INDEX tax_rules_in_force_idx ON tax_rules (org_id, region, valid_from);
"""

# Whole numbers and remainders of numeric division are exact, where a quotient would be cut off.
FUNCTIONS = """
CREATE FUNCTION round_to_step(numerator numeric, denominator numeric, step numeric, method text) RETURNS numeric
LANGUAGE sql IMMUTABLE STRICT PARALLEL SAFE AS $$
    SELECT sign(numerator) * sign(denominator) * step * CASE
        WHEN 2 * rest > unit OR (2 * rest = unit AND (method = 'half_up' OR whole % 2 = 1)) THEN whole + 1
        ELSE whole
    END
    FROM (
        SELECT unit, div(abs(numerator), unit) AS whole, mod(abs(numerator), unit) AS rest
        FROM (SELECT abs(denominator) * step AS unit) AS stepped
    ) AS divided
$$;

CREATE FUNCTION round_money(value numeric, minor integer, method text) RETURNS numeric
LANGUAGE sql IMMUTABLE STRICT PARALLEL SAFE AS $$
    SELECT round_to_step(value, 1, ('1e-' || minor)::numeric, method)
$$;

CREATE FUNCTION apportion(total numeric, weights numeric[], minor integer) RETURNS numeric[]
LANGUAGE sql IMMUTABLE STRICT PARALLEL SAFE AS $$
    WITH weighed AS (
        SELECT place, CASE WHEN together = 0 THEN (place = 1)::int ELSE weight END AS weight
        FROM unnest(weights) WITH ORDINALITY AS given (weight, place),
            (SELECT sum(w) AS together FROM unnest(weights) AS w) AS summed
    ), scaled AS (
        SELECT place, whole, trunc(total / unit) * weight AS share, unit
        FROM weighed, (SELECT sum(weight) AS whole FROM weighed) AS summed,
            (SELECT ('1e-' || minor)::numeric AS unit) AS counted
    ), parted AS (
        SELECT place, whole, unit, share, div(share, whole) - (mod(share, whole) < 0)::int AS part FROM scaled
    ), ranked AS (
        SELECT place, unit, part, row_number() OVER (ORDER BY share - part * whole DESC, place) AS rank,
            trunc(total / unit) - sum(part) OVER () AS left_over
        FROM parted
    )
    SELECT coalesce(array_agg((part + (rank <= left_over)::int) * unit ORDER BY place), '{}') FROM ranked
$$;
"""

WALL = """
ALTER TABLE {table} ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY own_organisation ON {table}
    USING (org_id = nullif(current_setting('app.org', true), '')::uuid)
    WITH CHECK (org_id = nullif(current_setting('app.org', true), '')::uuid);
GRANT SELECT, INSERT ON {table} TO office_app, office_batch;
"""
NAMES = ("exchange_rates", "tax_rules")
FIGURES = ("net", "tax", "gross")


def upgrade() -> None:
    op.execute(TABLES)
    for table in NAMES:
        op.execute(WALL.format(table=table))
    op.execute(FUNCTIONS)
    _widen(14, 4)  # some currencies have three decimals


def downgrade() -> None:
    _widen(14, 2)
    op.execute("DROP FUNCTION apportion, round_money, round_to_step")
    for table in NAMES:
        op.execute(f"DROP TABLE {table}")


def _widen(digits: int, decimals: int) -> None:
    changes = ", ".join(f"ALTER COLUMN {name} TYPE numeric({digits}, {decimals})" for name in FIGURES)
    op.execute(f"ALTER TABLE quote_revisions {changes}")
