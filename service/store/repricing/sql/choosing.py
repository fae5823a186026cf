"""Baskets made anew: what the quotes of a part need, and new lines in the place of those that they bought."""

from __future__ import annotations

from sqlalchemy import text

from service.store.repricing.sql.tables import LINE_NAMES, in_minor

# Who must be asked anew is `lacking`: a product is no longer sold so.
NEEDS = text("""
SELECT w.n, w.lacking, w.minor, w.new_conditions, (k.takeoff -> 'materials')::text AS materials,
    (k.request -> 'buying')::text AS asked, (k.basis -> 'buying')::text AS bought_as, k.request ->> 'start_date' AS start_date,
    kept.cost
FROM reprice_work AS w
JOIN quote_revisions AS r ON r.org_id = :org_id AND r.quote_id = w.quote_id AND r.quote_id BETWEEN :first AND :last AND r.revision = w.base
JOIN quote_takeoffs AS k ON k.org_id = r.org_id AND k.id = r.takeoff_id
JOIN (
    SELECT n, CAST(sum(amount) FILTER (WHERE kind IN ('material', 'delivery')) AS bigint) AS cost
    FROM reprice_lines GROUP BY n
) AS kept ON kept.n = w.n
WHERE w.outcome = 'open' ORDER BY w.n
""")

LEFT = text("""
UPDATE reprice_work AS w SET outcome = 'unpriceable', reason = told.reason
FROM unnest(CAST(:numbers AS integer[]), CAST(:reasons AS text[])) AS told (n, reason) WHERE told.n = w.n
""")

TAKEN = (
    text("""
UPDATE reprice_lines AS l SET stays = false
FROM reprice_taken AS t WHERE t.n = l.n AND l.kind IN ('material', 'delivery')
"""),
    text(f"""
INSERT INTO reprice_lines (
    n, position, {LINE_NAMES}, amount, at_old_rate, before, moved, sold, offered, stays, held
)
SELECT t.n, b.position, {LINE_NAMES}, {in_minor("b.amount")}, 0, 0, true, true, false, true, false
FROM reprice_taken AS t JOIN reprice_work AS w ON w.n = t.n JOIN reprice_baskets AS b ON b.basket = t.basket
"""),
    text("""
UPDATE reprice_lines AS l SET position = placed.place FROM (
    SELECT l.ctid AS line, row_number() OVER (
        PARTITION BY l.n ORDER BY array_position(ARRAY['material', 'delivery', 'labour'], l.kind), l.position
    ) AS place
    FROM reprice_lines AS l JOIN reprice_taken AS t ON t.n = l.n WHERE l.stays
) AS placed WHERE placed.line = l.ctid
"""),
)
"""What was bought stays for the causes alone; the lines of the basket come in its place."""
