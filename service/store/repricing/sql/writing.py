"""What a part stores: revisions with their lines and events, and what the run says of each quote."""

from __future__ import annotations

from sqlalchemy import text

from service.store.repricing.sql.tables import CHANGED, MINOR, SUMS, UNIT

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
JOIN reprice_lines AS l ON l.n = w.n AND l.stays
JOIN reprice_line_prices AS p ON p.n = l.n AND p.position = l.position
WHERE t.revise
UNION ALL
SELECT :org_id, w.quote_id, w.next, c.lines + row_number() OVER (PARTITION BY w.n ORDER BY a.place), 'adjustment', a.role, 'other',
    replace(a.role, '_', ' '), NULL, NULL, NULL, NULL, NULL, NULL, 1, 'sum', 0, a.price * {UNIT}, 0 * {UNIT}, false, '',
    '{{}}', '{{}}', NULL, NULL
FROM {CHANGED}
JOIN (SELECT n, count(*) AS lines FROM reprice_lines WHERE stays GROUP BY n) AS c ON c.n = w.n
CROSS JOIN LATERAL (VALUES
    (0, 'discount', -t.discount), (1, 'minimum_charge', t.minimum_charge), (2, 'rounding', t.rounding)
) AS a (place, role, price)
WHERE t.revise AND a.price <> 0
""")

# Both at once: a quote's state follows once a statement. The draft comes before what it takes the place of.
EVENTS = text(f"""
INSERT INTO quote_events (org_id, id, quote_id, revision, kind, at, key_id, note)
SELECT :org_id, e.id, w.quote_id, e.revision, e.kind, :now, :key_id, :note
FROM {CHANGED}
CROSS JOIN LATERAL (VALUES
    (0, t.event_id, w.next, 'draft'), (1, t.other_event_id, w.replaced, 'superseded')
) AS e (place, id, revision, kind)
WHERE t.revise AND e.revision IS NOT NULL ORDER BY w.n, e.place
""")

CAUSES = f"""
    SELECT l.n, 0 AS rank, jsonb_build_object('kind', CASE WHEN l.packs IS NULL THEN 'allowance' ELSE 'price' END,
        'product_id', l.product_id, 'supplier_id', l.supplier_id, 'amount', (sum(l.at_old_rate - l.before) * {UNIT})::text) AS cause
    FROM reprice_lines AS l JOIN reprice_work AS w ON w.n = l.n WHERE l.held AND l.kind = 'material'
    GROUP BY l.n, w.minor, l.packs IS NULL, l.product_id, l.supplier_id HAVING sum(l.at_old_rate - l.before) <> 0
    UNION ALL
    SELECT l.n, 1, jsonb_build_object('kind', 'exchange_rate', 'supplier_id', l.supplier_id,
        'amount', (sum(l.amount - l.at_old_rate) * {UNIT})::text)
    FROM reprice_lines AS l JOIN reprice_work AS w ON w.n = l.n WHERE l.held AND l.kind = 'material'
    GROUP BY l.n, w.minor, l.supplier_id HAVING sum(l.amount - l.at_old_rate) <> 0
    UNION ALL
    SELECT d.n, 2, jsonb_build_object('kind', 'supplier', 'supplier_id', d.supplier_id, 'amount', (sum(d.amount) * {UNIT})::text)
    FROM (
        SELECT n, supplier_id, amount FROM reprice_lines WHERE held AND kind = 'delivery'
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
        ELSE w.reason END
FROM reprice_work AS w
JOIN quote_revisions AS r ON r.org_id = :org_id AND r.quote_id = w.quote_id AND r.quote_id BETWEEN :first AND :last AND r.revision = w.base
WHERE w.outcome IN ('conflict', 'unpriceable')
""")
