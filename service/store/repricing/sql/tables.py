"""Tables of a part's own transaction, and how their figures are rounded.

`n` numbers the quotes of the part; money in whole minor units is an integer, all else a decimal as stored.
Of the lines, those that a quote `held` tell the causes, and those that `stay` make the new revision.
"""

from __future__ import annotations

PLANNED = "SET LOCAL jit = off"

TABLES = """
CREATE TEMPORARY TABLE IF NOT EXISTS reprice_work (
    n integer PRIMARY KEY, quote_id uuid, version integer, state text, outcome text, base integer,
    next integer, replaced integer, old_conditions uuid, new_conditions uuid, other_terms boolean,
    minor integer, half_even boolean, valid_days integer, hourly numeric, old_hourly numeric, charge_note text,
    lacking boolean DEFAULT false, reason text
) ON COMMIT DELETE ROWS;
CREATE TEMPORARY TABLE IF NOT EXISTS reprice_lines (
    n integer, position integer, kind text, role text, uplift_group text, description text, supplier_id uuid,
    supplier_name text, product_id uuid, price_list_id uuid, packs integer, pack_size numeric,
    quantity numeric, unit text, cost numeric, allowance boolean, note text, rooms text[], needs integer[],
    cutting jsonb, exchange jsonb, amount bigint, at_old_rate bigint, before bigint, moved boolean,
    charged bigint, old_charged bigint, sold boolean, offered boolean,
    stays boolean DEFAULT true, held boolean DEFAULT true
) ON COMMIT DELETE ROWS;
CREATE TEMPORARY TABLE IF NOT EXISTS reprice_line_prices (n integer, position integer, price bigint)
    ON COMMIT DELETE ROWS;
CREATE TEMPORARY TABLE IF NOT EXISTS reprice_totals (
    n integer, event_id uuid, other_event_id uuid, revise boolean, on_cost bigint, terms bigint, taxes bigint, basket bigint,
    materials bigint, delivery bigint, labour bigint, contingency bigint, markup bigint, discount bigint,
    minimum_charge bigint, rounding bigint, net bigint, tax bigint, gross bigint, deposit bigint,
    retention bigint, rest jsonb
) ON COMMIT DELETE ROWS
"""
CHOOSING = """
CREATE TEMPORARY TABLE IF NOT EXISTS reprice_baskets (
    basket integer, position integer, kind text, role text, uplift_group text, description text, supplier_id uuid,
    supplier_name text, product_id uuid, price_list_id uuid, packs integer, pack_size numeric,
    quantity numeric, unit text, cost numeric, allowance boolean, note text, rooms text[], needs integer[],
    cutting jsonb, exchange jsonb, amount numeric
) ON COMMIT DELETE ROWS;
CREATE TEMPORARY TABLE IF NOT EXISTS reprice_taken (n integer PRIMARY KEY, basket integer) ON COMMIT DELETE ROWS
"""
LINE_COLUMNS = (
    "kind", "role", "uplift_group", "description", "supplier_id", "supplier_name", "product_id", "price_list_id",
    "packs", "pack_size", "quantity", "unit", "cost", "allowance", "note", "rooms", "needs", "cutting", "exchange",
)  # fmt: skip
LINE_NAMES = ", ".join(LINE_COLUMNS)

COUNTED = "ANALYZE reprice_totals (n), reprice_lines (n, position, kind), reprice_line_prices (n, position)"
"""Of what is joined by only: to sort texts and documents costs as much as making the lines."""

CHANGED = "reprice_totals AS t JOIN reprice_work AS w ON w.n = t.n"
UNIT = "('1e-' || w.minor)::numeric"
SUMS = (
    "materials", "delivery", "labour", "contingency", "markup", "discount", "minimum_charge", "rounding",
    "net", "tax", "gross", "deposit", "retention",
)  # fmt: skip

ROUNDED = "CASE WHEN half_even THEN round_money({0}, minor, 'half_even') ELSE round({0}, minor) END"
MINOR = "CAST(({0}) * ('1e' || minor)::numeric AS bigint)"


def in_minor(value: str) -> str:
    return MINOR.format(ROUNDED.format(value))
