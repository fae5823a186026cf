"""Which quotes of a part are looked at, and what of each is held against its new figures.

What is stored of a quote is asked for within the part's range of keys, lest a merge join walk all quotes before it.
"""

from __future__ import annotations

from sqlalchemy import text

from service.store.repricing.selection import COULD_CHANGE, COULD_HOLD, HOLDS, SELECTED

# A line is looked at again where another list holds now, or what else its price comes from changed since.
LOOKED_AT = f"""
INSERT INTO reprice_work
SELECT row_number() OVER (ORDER BY q.id) - 1, q.id, q.version, q.state,
    CASE WHEN q.state <> 'accepted' AND last.created_at > :began_at THEN 'conflict' ELSE 'open' END,
    b.base, q.current_revision + 1, CASE WHEN newest.kind = 'draft' THEN q.current_revision END,
    r.conditions_id, c.new_id, c.other_terms, c.minor, c.half_even, c.valid_days,
    c.hourly_charge, c.old_hourly_charge, c.charge_note
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
WHERE {SELECTED} {{holds}} AND q.id BETWEEN :first AND :last AND r.net IS NOT NULL AND (
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
    ) {{more}}
)
"""
WORK = text(LOOKED_AT.format(holds=HOLDS, more=""))
WORK_CHOOSING = text(LOOKED_AT.format(holds=COULD_HOLD, more=f"OR ({COULD_CHANGE})"))
"""Where baskets are made anew, also quotes for which only another product or supplier than theirs changed."""

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

# Each option has prices of its own, all or none of which would have to move with the quote's.
WITH_OPTIONS = text("""
UPDATE reprice_work AS w SET outcome = 'unpriceable', reason = 'it has options, each with prices of its own: revise it'
WHERE outcome = 'open' AND EXISTS (
    SELECT FROM quote_options AS o
    WHERE o.org_id = :org_id AND o.quote_id = w.quote_id AND o.quote_id BETWEEN :first AND :last AND o.revision = w.base
)
""")

# Told by the lines just made. Where baskets are made anew, what is no longer sold is looked for elsewhere.
UNPRICEABLE = text("""
UPDATE reprice_work AS w SET outcome = 'unpriceable', reason = CASE
        WHEN offered THEN 'a price of it is an offer for this job'
        WHEN unsold THEN 'a product that it holds is no longer sold so by its supplier'
        ELSE 'the terms no longer have the rate of its day work' END
    FROM (
        SELECT n, bool_or(offered) AS offered, bool_or(NOT sold) AS unsold
        FROM reprice_lines
        WHERE offered OR (NOT sold AND NOT :choose) OR (uplift_group = 'day_work' AND charged IS NULL) GROUP BY n
    ) AS found
    WHERE found.n = w.n
""")
LACKING = text("""
UPDATE reprice_work AS w SET lacking = true WHERE n IN (SELECT n FROM reprice_lines WHERE NOT sold)
""")

CLOSED = text("""
DELETE FROM reprice_lines AS l USING reprice_work AS w WHERE w.n = l.n AND w.outcome <> 'open'
""")

ENDING = text("""
SELECT DISTINCT w.n, l.supplier_name, p.valid_until AS ends,
    CAST(:today AS date) + coalesce(CAST(k.request ->> 'valid_days' AS integer), w.valid_days) AS valid_until
FROM reprice_lines AS l
JOIN price_lists AS p ON p.org_id = :org_id AND p.id = l.price_list_id AND p.valid_until IS NOT NULL
JOIN reprice_work AS w ON w.n = l.n
JOIN quote_revisions AS r ON r.org_id = :org_id AND r.quote_id = w.quote_id AND r.quote_id BETWEEN :first AND :last AND r.revision = w.base
JOIN quote_takeoffs AS k ON k.org_id = r.org_id AND k.id = r.takeoff_id
WHERE l.stays AND p.valid_until < CAST(:today AS date) + coalesce(CAST(k.request ->> 'valid_days' AS integer), w.valid_days)
ORDER BY w.n, l.supplier_name, p.valid_until
""")

FOUND = text("""
SELECT w.n, w.quote_id, w.state, w.outcome, w.base, w.old_conditions, w.new_conditions, w.other_terms, w.minor,
    r.materials, r.delivery, r.labour, r.net, r.tax, r.gross
FROM reprice_work AS w JOIN quote_revisions AS r
    ON r.org_id = :org_id AND r.quote_id = w.quote_id AND r.quote_id BETWEEN :first AND :last AND r.revision = w.base
ORDER BY w.n
""")
