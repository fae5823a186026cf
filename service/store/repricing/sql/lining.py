"""The lines of a part's quotes at the prices of the run."""

from __future__ import annotations

from sqlalchemy import text

from service.store.repricing.sql.tables import MINOR, in_minor

LINES = text(f"""
INSERT INTO reprice_lines
WITH kept AS MATERIALIZED (
    SELECT w.n, w.minor, w.half_even, l.position, l.kind, l.role, l.uplift_group, l.description, l.supplier_id,
        l.supplier_name, l.product_id, coalesce(p.price_list_id, l.price_list_id) AS price_list_id,
        l.packs, l.pack_size, l.quantity, l.unit, l.allowance,
        CASE WHEN l.uplift_group = 'labour' THEN w.charge_note ELSE l.note END AS note, l.rooms, l.needs, l.cutting,
        CASE WHEN p.price IS NULL THEN l.exchange ELSE s.exchange END AS exchange,
        coalesce(p.price, a.price, l.cost) AS cost, l.cost AS old_cost, l.amount AS old_amount,
        coalesce(l.packs, l.quantity) AS counted, p.split,
        CASE WHEN l.exchange IS NOT NULL AND s.exchange IS NOT NULL
            THEN round(p.stated * CAST(l.exchange ->> 'rate' AS numeric), 4) END AS price_at_old_rate,
        CASE l.uplift_group WHEN 'labour' THEN w.hourly WHEN 'day_work' THEN d.hourly END AS hourly,
        CASE l.uplift_group WHEN 'labour' THEN w.old_hourly WHEN 'day_work' THEN d.old_hourly END AS old_hourly,
        l.packs IS NULL OR p.price IS NOT NULL AS sold, coalesce(h.kind = 'job_offer', false) AS offered
    FROM reprice_work AS w
    JOIN quote_lines AS l ON l.org_id = :org_id AND l.quote_id = w.quote_id AND l.quote_id BETWEEN :first AND :last AND l.revision = w.base
    LEFT JOIN repricing_prices AS p ON p.org_id = :org_id AND p.repricing_id = :run
        AND p.supplier_id = l.supplier_id AND p.product_id = l.product_id AND p.pack_size = l.pack_size
        AND p.from_packs <= l.packs AND (p.below_packs IS NULL OR p.below_packs > l.packs)
    LEFT JOIN repricing_suppliers AS s
        ON s.org_id = :org_id AND s.repricing_id = :run AND s.supplier_id = l.supplier_id
    LEFT JOIN price_lists AS h ON h.org_id = :org_id AND h.id = l.price_list_id
    LEFT JOIN LATERAL (
        SELECT max(CAST(one ->> 'hourly_price' AS numeric)) FILTER (WHERE c.id = w.new_conditions) AS hourly,
            max(CAST(one ->> 'hourly_price' AS numeric)) FILTER (WHERE c.id = w.old_conditions) AS old_hourly
        FROM quote_conditions AS c, jsonb_array_elements(c.body -> 'terms' -> 'day_work') AS one
        WHERE l.uplift_group = 'day_work' AND c.org_id = :org_id AND c.id IN (w.new_conditions, w.old_conditions)
            AND one ->> 'name' = l.note
    ) AS d ON true
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
    SELECT kept.*, CASE WHEN cost = old_cost THEN {MINOR.format("old_amount")} ELSE {in_minor("counted * cost")} END AS amount,
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
        CASE WHEN price_at_old_rate IS NULL THEN amount ELSE {in_minor("counted * price_at_old_rate")} END AS at_old_rate,
        before, cost <> old_cost AS moved, {in_minor("quantity * hourly")} AS charged,
        {in_minor("quantity * old_hourly")} AS old_charged, sold, offered
    FROM priced
    UNION ALL
    SELECT c.n, 1, c.supplier_id, c.step, c.place, 'delivery', 'delivery', 'delivery', c.description,
        c.supplier_id, c.name, NULL, NULL, NULL, NULL, c.quantity, c.unit, c.charge, false, '', '{{}}', '{{}}',
        NULL, s.exchange, {in_minor("c.quantity * c.charge")}, 0, 0, false, NULL, NULL, true, false
    FROM charged AS c JOIN reprice_work AS w ON w.n = c.n
    JOIN repricing_suppliers AS s
        ON s.org_id = :org_id AND s.repricing_id = :run AND s.supplier_id = c.supplier_id
    WHERE c.charge <> 0
)
SELECT n, row_number() OVER (PARTITION BY n ORDER BY section, of_supplier, step, place), kind, role,
    uplift_group, description, supplier_id, supplier_name, product_id, price_list_id, packs, pack_size,
    quantity, unit, cost, allowance, note, rooms, needs, cutting, exchange, amount, at_old_rate, before, moved,
    charged, old_charged, sold, offered
FROM every
""")

AMOUNTS = """
SELECT n, CASE kind WHEN 'material' THEN 0 WHEN 'delivery' THEN 1 ELSE 2 END,
    coalesce(array_position(%s::text[], uplift_group), 1) - 1, moved::integer, amount,
    coalesce(charged, -1), coalesce(old_charged, -1)
FROM reprice_lines WHERE stays ORDER BY n, position
"""
