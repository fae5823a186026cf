"""A price list beside what its supplier's prices would be without it on its first day."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, NamedTuple
from uuid import UUID

from sqlalchemy import and_, case, column, func, insert, literal, or_, select, table, text
from sqlalchemy.orm import Session

from service.store.in_force import held
from service.store.models import Organisation, PriceItem, PriceList, ProductRow
from service.store.session import org_of

DROP = "DROP TABLE IF EXISTS pg_temp.price_changes"
CREATE = """
CREATE TEMPORARY TABLE price_changes (
    product_id uuid, pack_size numeric, min_packs integer, old numeric, new numeric,
    percent numeric, kind text, jump boolean
) ON COMMIT DROP
"""
NAMES = ("product_id", "pack_size", "min_packs", "old", "new", "percent", "kind", "jump")
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
    SELECT n.ctid AS place, n.new / n.pack_size AS new, one.old FROM pg_temp.price_changes n
    CROSS JOIN LATERAL (
        SELECT o.old / o.pack_size AS old
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
"""A pack or a break that was not sold is held against the product's nearest one, by the price of a unit."""
CHANGES = table("price_changes", *(column(name) for name in NAMES), schema="pg_temp")


@dataclass(frozen=True, slots=True)
class Changes:
    """How many prices are new, changed, the same, gone and beyond the limit, with samples of each.

    A sample has code, name, pack_size, min_packs, old, new and percent (of the old price; of a new pack of a
    known product: of the price of a unit in its nearest pack). What is gone is told for regular lists, which
    stand in place of the one before whole; others name some products only.
    """

    counts: Mapping[str, int]
    samples: Mapping[str, Sequence[Mapping[str, Any]]]
    limit_percent: Decimal


def changes(session: Session, price_list: PriceList, most: int) -> Changes:
    """What the list changes, with up to `most` samples of each kind, the widest changes first."""
    limit = session.execute(_limit(org_of(session))).scalar_one()
    _fill(session, price_list, limit)
    kinds = ("new", "changed", "gone") if price_list.kind == "regular" else ("new", "changed")
    counted = _counts(session)
    samples = {kind: _samples(session, CHANGES.c.kind == kind, most) for kind in kinds}
    return Changes(
        counts={
            "gone": 0,
            **{kind: counted[kind].rows for kind in (*kinds, "same")},
            "jumps": _jumps(counted),
        },
        samples={"gone": (), **samples, "jumps": _samples(session, CHANGES.c.jump.is_(True), most)},
        limit_percent=limit,
    )


def jumps_of(session: Session, price_list: PriceList) -> tuple[int, Decimal]:
    """How many of the list's prices move by more than the organisation's limit, and the limit."""
    limit = session.execute(_limit(org_of(session))).scalar_one()
    _fill(session, price_list, limit)
    return _jumps(_counts(session)), limit


def _limit(org_id: UUID) -> Any:
    return select(Organisation.price_jump_percent).where(Organisation.org_id == org_id)


def _fill(session: Session, price_list: PriceList, limit: Decimal) -> None:
    org_id = org_of(session)
    before = held(
        org_id,
        price_list.valid_from,
        (),
        PriceList.supplier_id == price_list.supplier_id,
        without=price_list.id,
    ).subquery()
    own = (
        select(PriceItem.product_id, PriceItem.pack_size, PriceItem.min_packs, PriceItem.price)
        .where(PriceItem.org_id == org_id, PriceItem.price_list_id == price_list.id)
        .subquery()
    )
    session.execute(text(DROP))
    session.execute(text(CREATE))
    session.execute(insert(CHANGES).from_select(NAMES, _compared(own, before, limit)))
    if session.execute(text(KNOWN)).scalar_one():
        session.execute(text(INDEX))
        session.execute(NEW_PACKS, {"limit": limit})


def _compared(own: Any, before: Any, limit: Decimal) -> Any:
    old, new = before.c.list_net, own.c.price
    keys = ("product_id", "pack_size", "min_packs")
    same_pack = [getattr(own.c, key) == getattr(before.c, key) for key in keys]
    moved = func.abs(new - old)
    return select(
        *(func.coalesce(getattr(own.c, key), getattr(before.c, key)) for key in keys),
        old,
        new,
        case((old > 0, func.round((new - old) / old * 100, 2))),
        case(
            (old.is_(None), literal("new")),
            (new.is_(None) & (before.c.kind == "regular"), literal("gone")),
            (new.is_(None), literal("beside")),
            (old == new, literal("same")),
            else_=literal("changed"),
        ),
        func.coalesce(or_(moved * 100 > old * limit, (old == 0) & (new > 0)), False),
    ).select_from(own.join(before, and_(*same_pack), full=True))


class _Count(NamedTuple):
    rows: int = 0
    jumps: int = 0


def _counts(session: Session) -> Mapping[str, _Count]:
    """By kind."""
    jumps = func.count().filter(CHANGES.c.jump)
    found = session.execute(select(CHANGES.c.kind, func.count(), jumps).group_by(CHANGES.c.kind))
    return defaultdict(_Count, {kind: _Count(*counted) for kind, *counted in found})


def _jumps(counted: Mapping[str, _Count]) -> int:
    return sum(count.jumps for count in counted.values())


def _samples(session: Session, which: Any, most: int) -> Sequence[Mapping[str, Any]]:
    product = (ProductRow.org_id == org_of(session)) & (ProductRow.id == CHANGES.c.product_id)
    columns = (CHANGES.c[name] for name in ("pack_size", "min_packs", "old", "new", "percent"))
    query = (
        select(ProductRow.code, ProductRow.name, *columns)
        .select_from(CHANGES.join(ProductRow.__table__, product))
        .where(which)
        .order_by(func.abs(CHANGES.c.percent).desc().nulls_last(), ProductRow.name, CHANGES.c.min_packs)
        .limit(most)
    )
    return session.execute(query).mappings().all()  # type: ignore[return-value]
