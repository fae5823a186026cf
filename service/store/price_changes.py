"""A price list beside what its supplier's prices would be without it on its first day."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any
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
NEW_PACKS = text("""
WITH nearest AS (
    SELECT DISTINCT ON (n.product_id, n.pack_size, n.min_packs)
        n.product_id, n.pack_size, n.min_packs,
        o.old / o.pack_size AS old, n.new / n.pack_size AS new
    FROM pg_temp.price_changes n JOIN pg_temp.price_changes o USING (product_id)
    WHERE n.old IS NULL AND o.old IS NOT NULL
    ORDER BY n.product_id, n.pack_size, n.min_packs,
        greatest(n.pack_size, o.pack_size) / least(n.pack_size, o.pack_size),
        abs(n.min_packs - o.min_packs), o.pack_size, o.min_packs
)
UPDATE pg_temp.price_changes c
SET percent = CASE WHEN near.old > 0 THEN round((near.new - near.old) / near.old * 100, 2) END,
    jump = abs(near.new - near.old) * 100 > near.old * :limit OR near.old = 0 AND near.new > 0
FROM nearest near
WHERE (c.product_id, c.pack_size, c.min_packs) = (near.product_id, near.pack_size, near.min_packs)
""")
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
    counts = {kind: _count(session, CHANGES.c.kind == kind) for kind in (*kinds, "same")}
    samples = {kind: _samples(session, CHANGES.c.kind == kind, most) for kind in kinds}
    jumps = CHANGES.c.jump.is_(True)
    return Changes(
        counts={"gone": 0, **counts, "jumps": _count(session, jumps)},
        samples={"gone": (), **samples, "jumps": _samples(session, jumps, most)},
        limit_percent=limit,
    )


def jumps_of(session: Session, price_list: PriceList) -> tuple[int, Decimal]:
    """How many of the list's prices move by more than the organisation's limit, and the limit."""
    limit = session.execute(_limit(org_of(session))).scalar_one()
    _fill(session, price_list, limit)
    return _count(session, CHANGES.c.jump.is_(True)), limit


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


def _count(session: Session, which: Any) -> int:
    return int(session.execute(select(func.count()).select_from(CHANGES).where(which)).scalar_one())


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
