"""The statements of one part, in the order in which they run, over tables of the transaction's own.

`n` numbers the quotes of the part; money in whole minor units is an integer, all else a decimal as stored.
What is stored of a quote is asked for within the part's range of keys, lest a merge join walk all quotes before it.
"""

from __future__ import annotations

from sqlalchemy import text

from service.store.repricing.selection import HOLDS, SELECTED

PLANNED = "SET LOCAL plan_cache_mode = force_custom_plan; SET LOCAL jit = off"
"""Each part has its own range of keys and row counts: a plan made for any would expect few rows."""

TABLES = """
CREATE TEMPORARY TABLE IF NOT EXISTS reprice_work (
    n integer PRIMARY KEY, quote_id uuid, version integer, state text, outcome text, base integer,
    next integer, replaced integer, old_conditions uuid, new_conditions uuid, other_terms boolean,
    minor integer, half_even boolean, valid_days integer
) ON COMMIT DELETE ROWS;
CREATE TEMPORARY TABLE IF NOT EXISTS reprice_lines (
    n integer, position integer, kind text, role text, uplift_group text, description text, supplier_id uuid,
    supplier_name text, product_id uuid, price_list_id uuid, packs integer, pack_size numeric,
    quantity numeric, unit text, cost numeric, allowance boolean, note text, rooms text[], needs integer[],
    cutting jsonb, exchange jsonb, amount bigint, at_old_rate bigint, before bigint, moved boolean
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

COUNTED = "ANALYZE reprice_totals (n), reprice_lines (n, position, kind), reprice_line_prices (n, position)"
"""Of what is joined by only: to sort texts and documents costs as much as making the lines."""

# A line is looked at again where another list holds now, or what else its price comes from changed since.
WORK = text(f"""
INSERT INTO reprice_work
SELECT row_number() OVER (ORDER BY q.id) - 1, q.id, q.version, q.state,
    CASE WHEN q.state <> 'accepted' AND last.created_at > :began_at THEN 'conflict' ELSE 'open' END,
    b.base, q.current_revision + 1, CASE WHEN newest.kind = 'draft' THEN q.current_revision END,
    r.conditions_id, c.new_id, c.other_terms, c.minor, c.half_even, c.valid_days
FROM quotes AS q
CROSS JOIN LATERAL (
    SELECT created_at FROM quote_events AS e WHERE e.org_id = q.org_id AND e.quote_id = q.id
    ORDER BY position DESC LIMIT 1
) AS last
CROSS JOIN LATERAL (
    SELECT kind FROM quote_events AS e
    WHERE e.org_id = q.org_id AND e.quote_id = q.id AND e.revision = q.current_revision
    ORDER BY position DESC LIMIT 1
) AS newest
CROSS JOIN LATERAL (SELECT CASE
    WHEN q.state <> 'accepted' AND newest.kind IN ('draft', 'issued') THEN q.current_revision
    ELSE coalesce(q.offered_revision, q.current_revision) END AS base
) AS b
JOIN quote_revisions AS r ON r.org_id = q.org_id AND r.quote_id = q.id AND r.revision = b.base
LEFT JOIN customers AS cu ON cu.org_id = q.org_id AND cu.id = q.customer_id
JOIN repricing_conditions AS c ON c.org_id = q.org_id AND c.repricing_id = :run
    AND c.old_id = r.conditions_id AND c.buyer = coalesce(cu.kind, 'consumer')
WHERE {SELECTED} {HOLDS} AND q.id BETWEEN :first AND :last AND r.net IS NOT NULL AND (
    c.other_terms OR (q.state <> 'accepted' AND last.created_at > :began_at) OR EXISTS (
        SELECT FROM quote_lines AS l LEFT JOIN LATERAL (
            SELECT price_list_id, since FROM repricing_prices AS p
            WHERE p.org_id = l.org_id AND p.repricing_id = :run AND p.supplier_id = l.supplier_id
                AND p.product_id = l.product_id LIMIT 1
        ) AS p ON true
        WHERE l.org_id = q.org_id AND l.quote_id = q.id AND l.revision = b.base AND l.packs IS NOT NULL AND (
            p.price_list_id IS DISTINCT FROM l.price_list_id OR r.created_at < p.since
            OR r.price_date < CAST(p.since AS date)
        )
    ) OR :roles AND EXISTS (
        SELECT FROM quote_lines AS l
        WHERE l.org_id = q.org_id AND l.quote_id = q.id AND l.revision = b.base AND l.packs IS NOT NULL
            AND l.role = ANY(CAST(:changed_roles AS text[]))
    )
)
""")

# Who changed a quote since it was looked at wins: the lock waits for them, the version tells.
LOCK = text("""
WITH locked AS (
    SELECT id, version FROM quotes WHERE org_id = :org_id AND id IN (
        SELECT quote_id FROM reprice_work WHERE outcome = 'open' AND state <> 'accepted'
    ) ORDER BY id FOR UPDATE
)
UPDATE reprice_work AS w SET outcome = 'conflict' FROM locked
WHERE locked.id = w.quote_id AND locked.version <> w.version
""")

# Hours charged at a rate, and day work, are reckoned by the path of one quote only.
UNPRICEABLE = text("""
UPDATE reprice_work AS w SET outcome = 'unpriceable' WHERE outcome = 'open' AND (EXISTS (
    SELECT FROM quote_conditions AS c
    WHERE c.org_id = :org_id AND c.id IN (w.old_conditions, w.new_conditions)
        AND c.body -> 'terms' ->> 'hourly_charge' IS NOT NULL
) OR EXISTS (
    SELECT FROM quote_lines AS l
    WHERE l.org_id = :org_id AND l.quote_id = w.quote_id AND l.quote_id BETWEEN :first AND :last AND l.revision = w.base
        AND l.uplift_group = 'day_work'
) OR EXISTS (
    SELECT FROM quote_options AS o
    WHERE o.org_id = :org_id AND o.quote_id = w.quote_id AND o.quote_id BETWEEN :first AND :last AND o.revision = w.base
) OR EXISTS (
    SELECT FROM quote_lines AS l JOIN price_lists AS p
        ON p.org_id = l.org_id AND p.id = l.price_list_id AND p.kind = 'job_offer'
    WHERE l.org_id = :org_id AND l.quote_id = w.quote_id AND l.quote_id BETWEEN :first AND :last AND l.revision = w.base
) OR EXISTS (
    SELECT FROM quote_lines AS l
    WHERE l.org_id = :org_id AND l.quote_id = w.quote_id AND l.quote_id BETWEEN :first AND :last AND l.revision = w.base AND l.packs IS NOT NULL
        AND NOT EXISTS (
            SELECT FROM repricing_prices AS p
            WHERE p.org_id = :org_id AND p.repricing_id = :run AND p.supplier_id = l.supplier_id
                AND p.product_id = l.product_id AND p.pack_size = l.pack_size AND p.from_packs <= l.packs
        )
))
""")

ROUNDED = "CASE WHEN half_even THEN round_money({0}, minor, 'half_even') ELSE round({0}, minor) END"
MINOR = "CAST(({0}) * ('1e' || minor)::numeric AS bigint)"


def _in_minor(value: str) -> str:
    return MINOR.format(ROUNDED.format(value))


LINES = text(f"""
INSERT INTO reprice_lines
WITH kept AS MATERIALIZED (
    SELECT w.n, w.minor, w.half_even, l.position, l.kind, l.role, l.uplift_group, l.description, l.supplier_id,
        l.supplier_name, l.product_id, coalesce(p.price_list_id, l.price_list_id) AS price_list_id,
        l.packs, l.pack_size, l.quantity, l.unit, l.allowance, l.note, l.rooms, l.needs, l.cutting,
        CASE WHEN p.price IS NULL THEN l.exchange ELSE s.exchange END AS exchange,
        coalesce(p.price, a.price, l.cost) AS cost, l.cost AS old_cost, l.amount AS old_amount,
        coalesce(l.packs, l.quantity) AS counted, p.split,
        CASE WHEN l.exchange IS NOT NULL AND s.exchange IS NOT NULL
            THEN round(p.stated * CAST(l.exchange ->> 'rate' AS numeric), 4) END AS price_at_old_rate
    FROM reprice_work AS w
    JOIN quote_lines AS l ON l.org_id = :org_id AND l.quote_id = w.quote_id AND l.quote_id BETWEEN :first AND :last AND l.revision = w.base
    LEFT JOIN repricing_prices AS p ON p.org_id = :org_id AND p.repricing_id = :run
        AND p.supplier_id = l.supplier_id AND p.product_id = l.product_id AND p.pack_size = l.pack_size
        AND p.from_packs <= l.packs AND (p.below_packs IS NULL OR p.below_packs > l.packs)
    LEFT JOIN repricing_suppliers AS s
        ON s.org_id = :org_id AND s.repricing_id = :run AND s.supplier_id = l.supplier_id
    LEFT JOIN LATERAL (
        SELECT CAST(one ->> 'price' AS numeric) AS price
        FROM quote_conditions AS c, jsonb_array_elements(c.body -> 'terms' -> 'allowances') AS one
        WHERE w.other_terms AND l.kind = 'material' AND l.packs IS NULL
            AND c.org_id = :org_id AND c.id = w.new_conditions AND one ->> 'unit' = l.unit
            AND (one ->> 'role' = l.role OR (one ->> 'role', l.role) = ('tile', 'skirting_tile'))
        ORDER BY one ->> 'role' <> l.role LIMIT 1
    ) AS a ON true
    WHERE w.outcome = 'open' AND l.kind IN ('material', 'labour')
), priced AS (
    SELECT kept.*, CASE WHEN cost = old_cost THEN {MINOR.format("old_amount")} ELSE {_in_minor("counted * cost")} END AS amount,
        {MINOR.format("old_amount")} AS before
    FROM kept
), orders AS (
    SELECT n, supplier_id, sum(amount) AS goods FROM priced WHERE packs IS NOT NULL GROUP BY n, supplier_id
), charged AS (
    SELECT o.n, o.supplier_id, c.step, 0 AS place, c.words || s.name AS description, 'order' AS unit,
        1::numeric AS quantity, c.charge, s.name
    FROM orders AS o JOIN reprice_work AS w ON w.n = o.n
    JOIN repricing_suppliers AS s
        ON s.org_id = :org_id AND s.repricing_id = :run AND s.supplier_id = o.supplier_id
    CROSS JOIN LATERAL (VALUES
        (0, 'delivery by ', CASE WHEN s.free_delivery_over IS NULL
            OR o.goods < s.free_delivery_over * ('1e' || w.minor)::numeric THEN s.delivery_charge ELSE 0 END),
        (2, 'carrying in by ', s.carry_in)
    ) AS c (step, words, charge)
    UNION ALL
    SELECT k.n, k.supplier_id, 1, k.position, 'freight of ' || d.name || ' by ' || s.name, 'kg',
        k.packs * k.pack_size * d.weight_kg, s.freight_per_kg, s.name
    FROM priced AS k
    JOIN repricing_suppliers AS s
        ON s.org_id = :org_id AND s.repricing_id = :run AND s.supplier_id = k.supplier_id
    JOIN products AS d ON d.org_id = :org_id AND d.id = k.product_id
    WHERE k.packs IS NOT NULL AND s.freight_per_kg <> 0 AND d.weight_kg <> 0
    UNION ALL
    SELECT k.n, k.supplier_id, 3, k.position, 'split pack of ' || s.name, 'order', 1, s.split_pack_surcharge, s.name
    FROM priced AS k
    JOIN repricing_suppliers AS s
        ON s.org_id = :org_id AND s.repricing_id = :run AND s.supplier_id = k.supplier_id
    WHERE k.split
), every AS (
    SELECT n, CASE kind WHEN 'material' THEN 0 ELSE 2 END AS section, NULL::uuid AS of_supplier, 0 AS step,
        position AS place, kind, role, uplift_group, description, supplier_id, supplier_name, product_id,
        price_list_id, packs, pack_size, quantity, unit, cost, allowance, note, rooms, needs,
        CASE WHEN cost = old_cost THEN cutting END AS cutting, exchange, amount,
        CASE WHEN price_at_old_rate IS NULL THEN amount ELSE {_in_minor("counted * price_at_old_rate")} END AS at_old_rate,
        before, cost <> old_cost AS moved
    FROM priced
    UNION ALL
    SELECT c.n, 1, c.supplier_id, c.step, c.place, 'delivery', 'delivery', 'delivery', c.description,
        c.supplier_id, c.name, NULL, NULL, NULL, NULL, c.quantity, c.unit, c.charge, false, '', '{{}}', '{{}}',
        NULL, s.exchange, {_in_minor("c.quantity * c.charge")}, 0, 0, false
    FROM charged AS c JOIN reprice_work AS w ON w.n = c.n
    JOIN repricing_suppliers AS s
        ON s.org_id = :org_id AND s.repricing_id = :run AND s.supplier_id = c.supplier_id
    WHERE c.charge <> 0
)
SELECT n, row_number() OVER (PARTITION BY n ORDER BY section, of_supplier, step, place), kind, role,
    uplift_group, description, supplier_id, supplier_name, product_id, price_list_id, packs, pack_size,
    quantity, unit, cost, allowance, note, rooms, needs, cutting, exchange, amount, at_old_rate, before, moved
FROM every
""")

AMOUNTS = """
SELECT n, CASE kind WHEN 'material' THEN 0 WHEN 'delivery' THEN 1 ELSE 2 END,
    coalesce(array_position(%s::text[], uplift_group), 1) - 1, moved::integer, amount
FROM reprice_lines ORDER BY n, position
"""

ENDING = text("""
SELECT DISTINCT w.n, l.supplier_name, p.valid_until AS ends,
    CAST(:today AS date) + coalesce(CAST(k.request ->> 'valid_days' AS integer), w.valid_days) AS valid_until
FROM reprice_lines AS l
JOIN price_lists AS p ON p.org_id = :org_id AND p.id = l.price_list_id AND p.valid_until IS NOT NULL
JOIN reprice_work AS w ON w.n = l.n
JOIN quote_revisions AS r ON r.org_id = :org_id AND r.quote_id = w.quote_id AND r.quote_id BETWEEN :first AND :last AND r.revision = w.base
JOIN quote_takeoffs AS k ON k.org_id = r.org_id AND k.id = r.takeoff_id
WHERE p.valid_until < CAST(:today AS date) + coalesce(CAST(k.request ->> 'valid_days' AS integer), w.valid_days)
ORDER BY w.n, l.supplier_name, p.valid_until
""")

FOUND = text("""
SELECT w.n, w.quote_id, w.state, w.outcome, w.base, w.old_conditions, w.new_conditions, w.other_terms, w.minor,
    r.materials, r.delivery, r.labour, r.net, r.tax, r.gross
FROM reprice_work AS w JOIN quote_revisions AS r
    ON r.org_id = :org_id AND r.quote_id = w.quote_id AND r.quote_id BETWEEN :first AND :last AND r.revision = w.base
ORDER BY w.n
""")

CHANGED = "reprice_totals AS t JOIN reprice_work AS w ON w.n = t.n"
UNIT = "('1e-' || w.minor)::numeric"
SUMS = (
    "materials", "delivery", "labour", "contingency", "markup", "discount", "minimum_charge", "rounding",
    "net", "tax", "gross", "deposit", "retention",
)  # fmt: skip

REVISIONS = text(f"""
INSERT INTO quote_revisions (
    org_id, quote_id, revision, takeoff_id, conditions_id, rest, price_date, valid_until, currency,
    {", ".join(SUMS)}, trade_edition, labour_table_id, terms_id, customer_id, engine_version
)
SELECT r.org_id, r.quote_id, w.next, r.takeoff_id, w.new_conditions, t.rest, :price_date,
    CAST(:today AS date) + coalesce(CAST(k.request ->> 'valid_days' AS integer), w.valid_days), r.currency,
    {", ".join(f"t.{name} * {UNIT}" for name in SUMS)}, r.trade_edition, r.labour_table_id, r.terms_id,
    r.customer_id, :engine_version
FROM {CHANGED}
JOIN quote_revisions AS r ON r.org_id = :org_id AND r.quote_id = w.quote_id AND r.quote_id BETWEEN :first AND :last AND r.revision = w.base
JOIN quote_takeoffs AS k ON k.org_id = r.org_id AND k.id = r.takeoff_id
WHERE t.revise
""")

NEW_LINES = text(f"""
INSERT INTO quote_lines (
    org_id, quote_id, revision, position, kind, role, uplift_group, description, supplier_id, supplier_name,
    product_id, price_list_id, packs, pack_size, quantity, unit, cost, price, amount, allowance, note, rooms,
    needs, cutting, exchange
)
SELECT CAST(:org_id AS uuid), w.quote_id, w.next, l.position, l.kind, l.role, l.uplift_group, l.description, l.supplier_id,
    l.supplier_name, l.product_id, l.price_list_id, l.packs, l.pack_size, l.quantity, l.unit, l.cost,
    p.price * {UNIT}, l.amount * {UNIT}, l.allowance, l.note, l.rooms, l.needs, l.cutting, l.exchange
FROM {CHANGED}
JOIN reprice_lines AS l ON l.n = w.n
JOIN reprice_line_prices AS p ON p.n = l.n AND p.position = l.position
WHERE t.revise
UNION ALL
SELECT :org_id, w.quote_id, w.next, c.lines + row_number() OVER (PARTITION BY w.n ORDER BY a.place), 'adjustment', a.role, 'other',
    replace(a.role, '_', ' '), NULL, NULL, NULL, NULL, NULL, NULL, 1, 'sum', 0, a.price * {UNIT}, 0 * {UNIT}, false, '',
    '{{}}', '{{}}', NULL, NULL
FROM {CHANGED}
JOIN (SELECT n, count(*) AS lines FROM reprice_lines GROUP BY n) AS c ON c.n = w.n
CROSS JOIN LATERAL (VALUES
    (0, 'discount', -t.discount), (1, 'minimum_charge', t.minimum_charge), (2, 'rounding', t.rounding)
) AS a (place, role, price)
WHERE t.revise AND a.price <> 0
""")

EVENTS = tuple(
    text(f"""
INSERT INTO quote_events (org_id, id, quote_id, revision, kind, at, key_id, note)
SELECT :org_id, t.{event}, w.quote_id, w.{revision}, '{kind}', :now, :key_id, :note
FROM {CHANGED} WHERE t.revise AND w.{revision} IS NOT NULL ORDER BY w.n
""")
    for event, revision, kind in (("event_id", "next", "draft"), ("other_event_id", "replaced", "superseded"))
)

CAUSES = f"""
    SELECT l.n, 0 AS rank, jsonb_build_object('kind', CASE WHEN l.packs IS NULL THEN 'allowance' ELSE 'price' END,
        'product_id', l.product_id, 'supplier_id', l.supplier_id, 'amount', (sum(l.at_old_rate - l.before) * {UNIT})::text) AS cause
    FROM reprice_lines AS l JOIN reprice_work AS w ON w.n = l.n WHERE l.kind = 'material'
    GROUP BY l.n, w.minor, l.packs IS NULL, l.product_id, l.supplier_id HAVING sum(l.at_old_rate - l.before) <> 0
    UNION ALL
    SELECT l.n, 1, jsonb_build_object('kind', 'exchange_rate', 'supplier_id', l.supplier_id,
        'amount', (sum(l.amount - l.at_old_rate) * {UNIT})::text)
    FROM reprice_lines AS l JOIN reprice_work AS w ON w.n = l.n WHERE l.kind = 'material'
    GROUP BY l.n, w.minor, l.supplier_id HAVING sum(l.amount - l.at_old_rate) <> 0
    UNION ALL
    SELECT d.n, 2, jsonb_build_object('kind', 'supplier', 'supplier_id', d.supplier_id, 'amount', (sum(d.amount) * {UNIT})::text)
    FROM (
        SELECT n, supplier_id, amount FROM reprice_lines WHERE kind = 'delivery'
        UNION ALL
        SELECT w.n, l.supplier_id, -{MINOR.format("l.amount")} FROM reprice_work AS w JOIN quote_lines AS l
            ON l.org_id = :org_id AND l.quote_id = w.quote_id AND l.quote_id BETWEEN :first AND :last AND l.revision = w.base AND l.kind = 'delivery'
        WHERE w.outcome = 'open'
    ) AS d JOIN reprice_work AS w ON w.n = d.n GROUP BY d.n, w.minor, d.supplier_id HAVING sum(d.amount) <> 0
    UNION ALL
    SELECT t.n, 3, jsonb_build_object('kind', c.kind, 'amount', (c.amount * {UNIT})::text)
    FROM {CHANGED}
    CROSS JOIN LATERAL (VALUES ('basket', t.basket), ('on_cost', t.on_cost), ('terms', t.terms), ('tax', t.taxes)) AS c (kind, amount)
    WHERE c.amount <> 0
"""

CHANGES = text(f"""
INSERT INTO repricing_changes (
    org_id, repricing_id, quote_id, outcome, state, revision, new_revision, old_cost, old_net, old_gross,
    new_cost, new_net, new_gross, causes
)
SELECT :org_id, :run, w.quote_id, 'changed', w.state, w.base, CASE WHEN t.revise THEN w.next END,
    r.materials + r.delivery + r.labour, r.net, r.gross,
    (t.materials + t.delivery + t.labour) * {UNIT}, t.net * {UNIT}, t.gross * {UNIT}, coalesce(c.causes, '[]')
FROM {CHANGED}
JOIN quote_revisions AS r ON r.org_id = :org_id AND r.quote_id = w.quote_id AND r.quote_id BETWEEN :first AND :last AND r.revision = w.base
LEFT JOIN (
    SELECT n, jsonb_agg(cause ORDER BY rank, cause) AS causes FROM ({CAUSES}) AS each GROUP BY n
) AS c ON c.n = w.n
""")

OTHERS = text("""
INSERT INTO repricing_changes (
    org_id, repricing_id, quote_id, outcome, state, revision, old_cost, old_net, old_gross, note
)
SELECT :org_id, :run, w.quote_id, w.outcome, w.state, w.base, r.materials + r.delivery + r.labour, r.net, r.gross,
    CASE w.outcome WHEN 'conflict' THEN 'somebody changed the quote after the run began'
        ELSE CASE WHEN EXISTS (
            SELECT FROM quote_options AS o
            WHERE o.org_id = :org_id AND o.quote_id = w.quote_id AND o.quote_id BETWEEN :first AND :last AND o.revision = w.base
        ) THEN 'it has options, each with prices of its own: revise it'
        ELSE 'a price of it is an offer for this job, or a product that it holds is no longer sold so by its supplier' END END
FROM reprice_work AS w
JOIN quote_revisions AS r ON r.org_id = :org_id AND r.quote_id = w.quote_id AND r.quote_id BETWEEN :first AND :last AND r.revision = w.base
WHERE w.outcome IN ('conflict', 'unpriceable')
""")
