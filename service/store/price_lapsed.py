"""Prices of a list that have none before them, beside the last that the product had, or its nearest pack.

Statements on the table of changes that `price_changes` fills.
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from sqlalchemy import text
from sqlalchemy.orm import Session

from service.store.models import PriceList
from service.store.session import org_of

DROP_LAPSED = "DROP TABLE IF EXISTS pg_temp.price_lapsed"
KNOWN = """
SELECT bool_or(old IS NULL) AND bool_or(old IS NOT NULL) FROM pg_temp.price_changes
"""
INDEX = """
CREATE INDEX ON pg_temp.price_changes (product_id, pack_size, min_packs) WHERE old IS NOT NULL;
ANALYZE pg_temp.price_changes
"""
NEAREST = """
(SELECT {of} FROM pg_temp.price_changes o
WHERE {within} AND o.old IS NOT NULL AND o.{of} <= n.{of} ORDER BY o.{of} DESC LIMIT 1)
UNION ALL
(SELECT {of} FROM pg_temp.price_changes o
WHERE {within} AND o.old IS NOT NULL AND o.{of} > n.{of} ORDER BY o.{of} LIMIT 1)
"""
"""The next one below and above, each found by the index: a product may have thousands."""
SAME_PRODUCT = "o.product_id = n.product_id"
NEW_PACKS = text(f"""
UPDATE pg_temp.price_changes c
SET percent = CASE WHEN near.old > 0 THEN round((near.new - near.old) / near.old * 100, 2) END,
    jump = abs(near.new - near.old) * 100 > near.old * :limit OR near.old = 0 AND near.new > 0
FROM (
    SELECT n.ctid AS place, n.new * one.pack_size AS new, one.old * n.pack_size AS old
    FROM pg_temp.price_changes n
    CROSS JOIN LATERAL (
        SELECT o.old, o.pack_size
        FROM ({NEAREST.format(of="pack_size", within=SAME_PRODUCT)}) AS size
        CROSS JOIN LATERAL (
            {NEAREST.format(of="min_packs", within=f"{SAME_PRODUCT} AND o.pack_size = size.pack_size")}
        ) AS packs
        JOIN pg_temp.price_changes o ON {SAME_PRODUCT} AND o.old IS NOT NULL
            AND o.pack_size = size.pack_size AND o.min_packs = packs.min_packs
        ORDER BY greatest(n.pack_size, size.pack_size) / least(n.pack_size, size.pack_size),
            abs(n.min_packs - packs.min_packs), size.pack_size, packs.min_packs
        LIMIT 1
    ) AS one
    WHERE n.old IS NULL
) AS near
WHERE c.ctid = near.place
""")  # noqa: S608 - words of our own
"""A pack or a break that was not sold is held against the product's nearest one, by the price of a unit
(each price times the other's pack size: a division would round)."""
LAPSED = text("""
CREATE TEMPORARY TABLE price_lapsed ON COMMIT DROP AS
WITH unknown AS (
    SELECT product_id FROM pg_temp.price_changes GROUP BY product_id HAVING bool_and(old IS NULL)
), ranked AS (
    SELECT i.product_id, i.pack_size, i.min_packs, i.price,
        rank() OVER (PARTITION BY i.product_id ORDER BY l.valid_from DESC, l.activated_at DESC, l.id) AS place
    FROM price_lists l
    JOIN price_items i ON i.org_id = :org_id AND i.price_list_id = l.id
    JOIN unknown ON unknown.product_id = i.product_id
    WHERE l.org_id = :org_id AND l.supplier_id = :supplier_id AND l.id <> :list_id
        AND l.activated_at IS NOT NULL AND l.kind <> 'job_offer' AND l.valid_from <= :day
)
SELECT product_id, pack_size, min_packs, price FROM ranked WHERE place = 1
""")
"""What products without a price on the day were last sold at: in a list that ended, was withdrawn, or made
way for one that left them out."""
ANY_LAPSED = text("SELECT EXISTS (SELECT FROM pg_temp.price_lapsed)")
TAKE_LAPSED = (
    text("ANALYZE pg_temp.price_changes, pg_temp.price_lapsed"),
    text("""
    UPDATE pg_temp.price_changes c
    SET old = l.price, percent = CASE WHEN l.price > 0 THEN round((c.new - l.price) / l.price * 100, 2) END,
        kind = CASE WHEN c.new = l.price THEN 'same' ELSE 'changed' END,
        jump = abs(c.new - l.price) * 100 > l.price * :limit OR l.price = 0 AND c.new > 0
    FROM pg_temp.price_lapsed l
    WHERE (c.product_id, c.pack_size, c.min_packs) = (l.product_id, l.pack_size, l.min_packs)
    """),
    text("""
    INSERT INTO pg_temp.price_changes (product_id, pack_size, min_packs, old, kind, jump)
    SELECT l.*, 'beside', false FROM pg_temp.price_lapsed l
    WHERE NOT EXISTS (
        SELECT FROM pg_temp.price_changes c
        WHERE (c.product_id, c.pack_size, c.min_packs) = (l.product_id, l.pack_size, l.min_packs)
    )
    """),
)


def take_lapsed(session: Session, price_list: PriceList, day: date, limit: Decimal) -> None:
    """Of products without a price on the day, compare with the last that the supplier sold them at."""
    of_list = {"org_id": org_of(session), "supplier_id": price_list.supplier_id, "list_id": price_list.id}
    session.execute(LAPSED, {**of_list, "day": day})
    if not session.execute(ANY_LAPSED).scalar_one():
        return
    for statement in TAKE_LAPSED:
        session.execute(statement, {"limit": limit} if ":limit" in statement.text else {})


def hold_new_packs(session: Session, limit: Decimal) -> None:
    """Compare new packs of known products with their nearest ones."""
    if session.execute(text(KNOWN)).scalar_one():
        session.execute(text(INDEX))
        session.execute(NEW_PACKS, {"limit": limit})
