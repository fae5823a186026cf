"""What a run works with, fixed when it begins: prices and charges in force, and its parts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlalchemy import bindparam, func, insert, literal, select, text
from sqlalchemy.dialects.postgresql import JSONB
from sqlalchemy.orm import Session

from service.pricing.exchange import CHARGES
from service.store import rows
from service.store.in_force import held
from service.store.models import (
    ProductRow,
    QuoteConditions,
    Repricing,
    RepricingConditions,
    RepricingPrice,
    RepricingSupplier,
    Supplier,
)
from service.store.repricing.selection import HOLDING, SELECTED, Selection
from service.store.session import org_of

PRICE_NAMES = (
    "org_id", "repricing_id", "supplier_id", "product_id", "pack_size", "from_packs", "below_packs",
    "price_list_id", "price", "stated", "split",
)  # fmt: skip
CONVERT = "CASE WHEN s.currency = o.currency THEN {0} ELSE round({0} * rate, 4) END"
"""To four decimals, halves away from zero, as `pricing.exchange` does it."""

STATED = text(f"""
INSERT INTO repricing_suppliers (org_id, repricing_id, supplier_id, name, lead_time_days, region, {", ".join(CHARGES)}, exchange)
SELECT s.org_id, :run, s.id, s.name, s.lead_time_days, s.region, {", ".join(map(CONVERT.format, CHARGES))}, x.exchange
FROM suppliers AS s
JOIN organisations AS o ON o.org_id = s.org_id
CROSS JOIN LATERAL (SELECT :exchanges -> s.currency AS exchange) AS x
CROSS JOIN LATERAL (SELECT CAST(x.exchange ->> 'rate' AS numeric) AS rate) AS r
WHERE s.org_id = :org_id AND s.archived_at IS NULL AND (s.currency = o.currency OR rate IS NOT NULL)
""").bindparams(bindparam("exchanges", type_=JSONB))

CONVERTED = text("""
UPDATE repricing_prices AS p SET price = round(stated * CAST(s.exchange ->> 'rate' AS numeric), 4)
FROM repricing_suppliers AS s
WHERE p.org_id = :org_id AND p.repricing_id = :run AND s.org_id = p.org_id AND s.repricing_id = p.repricing_id
    AND s.supplier_id = p.supplier_id AND s.exchange IS NOT NULL
""")

PARTS = f"""
INSERT INTO repricing_parts (org_id, repricing_id, number, first_quote, last_quote)
SELECT :org_id, :run, part, (array_agg(id ORDER BY id))[1], (array_agg(id ORDER BY id DESC))[1]
FROM (
    SELECT q.id, CAST((row_number() OVER (ORDER BY q.id) - 1) / :part_size AS integer) AS part
    FROM quotes AS q WHERE {SELECTED} {{holding}}
) AS chosen GROUP BY part
RETURNING number
"""
COUNT = text(f"SELECT count(*) FROM quotes AS q WHERE {SELECTED}")

SINCE = text("""
UPDATE repricing_prices AS p SET since = touched.at
FROM (
    SELECT supplier_id, max(at) AS at FROM (
        SELECT subject_id AS supplier_id, created_at AS at FROM audit_entries
        WHERE org_id = :org_id AND subject = 'supplier' AND action = 'changed'
        UNION ALL
        SELECT supplier_id, greatest(
            created_at, CASE WHEN valid_from <= :day THEN CAST(valid_from AS timestamptz) END,
            CASE WHEN valid_until < :day THEN CAST(valid_until + 1 AS timestamptz) END
        ) FROM agreements WHERE org_id = :org_id
        UNION ALL
        SELECT s.id, greatest(r.created_at, CAST(r.valid_from AS timestamptz))
        FROM suppliers AS s JOIN exchange_rates AS r
            ON r.org_id = s.org_id AND r.from_currency = s.currency AND r.valid_from <= :day
        WHERE s.org_id = :org_id
    ) AS each GROUP BY supplier_id
) AS touched
WHERE p.org_id = :org_id AND p.repricing_id = :run AND p.supplier_id = touched.supplier_id
""")


CHANGED = (
    text("""
UPDATE repricing_prices AS p
SET changed_at = greatest(p.since, l.activated_at, l.holds_from, CAST(l.valid_from AS timestamptz)),
    begins = greatest(l.valid_from, CAST(l.holds_from AS date), CAST(p.since AS date))
FROM price_lists AS l
WHERE p.org_id = :org_id AND p.repricing_id = :run AND l.org_id = p.org_id AND l.id = p.price_list_id
"""),
    text("""
INSERT INTO repricing_roles (org_id, repricing_id, role, changed_at, begins, selected)
SELECT p.org_id, p.repricing_id, d.role, max(p.changed_at), max(p.begins), bool_or(
    coalesce(d.id = ANY(CAST(:products AS uuid[])), false) OR d.id IN (
        SELECT product_id FROM price_items WHERE org_id = :org_id AND price_list_id = :price_list
    )
)
FROM repricing_prices AS p JOIN products AS d ON d.org_id = p.org_id AND d.id = p.product_id
WHERE p.org_id = :org_id AND p.repricing_id = :run GROUP BY p.org_id, p.repricing_id, d.role
"""),
)
"""When prices last changed, of each pack and of each role."""


@dataclass(frozen=True, slots=True)
class Follower:
    """The conditions that take the place of others, for customers of a kind."""

    old_id: UUID
    buyer: str
    new_id: UUID
    other_terms: bool
    minor: int
    half_even: bool
    valid_days: int
    hourly_charge: Decimal | None
    old_hourly_charge: Decimal | None
    charge_note: str


def fix_prices(session: Session, run: UUID, day: date, exchanges: Mapping[str, Any]) -> None:
    """Write down the prices and charges in force on the day, for this run alone.

    `exchanges` are the rates into the office's currency, by the other, as a line keeps them. What no rate
    reaches is left out.
    """
    told = {"org_id": org_of(session), "run": run, "day": day, "exchanges": exchanges}
    session.execute(STATED, told)
    session.execute(insert(RepricingPrice).from_select(PRICE_NAMES, _prices(org_of(session), run, day)))
    session.execute(CONVERTED, told)
    session.execute(SINCE, told)


def fix_changes(session: Session, run: Repricing, selection: Selection) -> None:
    """Write down when prices last changed, for a run that makes baskets anew."""
    told = {"org_id": run.org_id, "run": run.id, **selection.parameters}
    for statement in CHANGED:
        session.execute(statement, told)


def _prices(org_id: UUID, run: UUID, day: date) -> Any:
    sold = held(org_id, day, (), ProductRow.archived_at.is_(None), Supplier.archived_at.is_(None)).subquery()
    pack = (sold.c.supplier_id, sold.c.product_id, sold.c.pack_size)
    reached = select(RepricingSupplier.supplier_id).where(
        RepricingSupplier.org_id == org_id, RepricingSupplier.repricing_id == run
    )
    return select(
        literal(org_id), literal(run), *pack, sold.c.min_packs,
        func.lead(sold.c.min_packs).over(partition_by=pack, order_by=sold.c.min_packs),
        sold.c.price_list_id, sold.c.price, sold.c.price, func.bool_or(sold.c.split).over(partition_by=pack),
    ).where(sold.c.supplier_id.in_(reached))  # fmt: skip


def conditions_held(session: Session) -> Mapping[UUID, Mapping[str, Any]]:
    """All conditions by which quotes of the organisation were priced."""
    query = select(QuoteConditions).where(QuoteConditions.org_id == org_of(session))
    return {row.id: row.body for row in session.scalars(query)}


def fix_conditions(session: Session, run: UUID, followers: Iterable[Follower]) -> None:
    values = [{name: getattr(one, name) for name in one.__slots__} for one in followers]
    rows.add_all(session, RepricingConditions, ({"repricing_id": run, **row} for row in values))


def part_out(session: Session, run: Repricing, selection: Selection) -> tuple[int, list[int]]:
    """Count the quotes selected, and make parts of those that are to be looked at; the parts' numbers."""
    asked = {
        "org_id": run.org_id, "run": run.id, "began_at": run.began_at, "part_size": run.part_size,
        **selection.parameters,
    }  # fmt: skip
    holding = "" if run.choice == "choose" else HOLDING  # what a quote could hold is asked part by part
    return session.scalar(COUNT, asked) or 0, sorted(
        session.scalars(text(PARTS.format(holding=holding)), asked)
    )


def forget(session: Session, run: UUID) -> None:
    """Drop what only the run's parts needed."""
    key = {"org_id": org_of(session), "run": run}
    for name in ("repricing_prices", "repricing_suppliers", "repricing_conditions", "repricing_roles"):
        session.execute(text(f"DELETE FROM {name} WHERE org_id = :org_id AND repricing_id = :run"), key)
