"""A price list beside what its supplier's prices would be without it on its first day, or today where it
overrides at once what is in force; of products that then have no price, beside the last that they had."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any, NamedTuple
from uuid import UUID

from sqlalchemy import and_, case, column, exists, func, insert, literal, or_, select, table, text, tuple_
from sqlalchemy.orm import Session

from service.store.in_force import day_of, held
from service.store.models import Organisation, PriceItem, PriceList, ProductRow
from service.store.price_lapsed import DROP_LAPSED, hold_new_packs, take_lapsed
from service.store.session import org_of

DROP = "DROP TABLE IF EXISTS pg_temp.price_changes"
CREATE = """
CREATE TEMPORARY TABLE price_changes (
    product_id uuid, pack_size numeric, min_packs integer, old numeric, new numeric,
    percent numeric, kind text, jump boolean
) ON COMMIT DROP
"""
NAMES = ("product_id", "pack_size", "min_packs", "old", "new", "percent", "kind", "jump")
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


def jumps_of(session: Session, price_list: PriceList, at: datetime | None = None) -> tuple[int, Decimal]:
    """How many of the list's prices move by more than the organisation's limit, and the limit; where it is to
    hold from a moment on, beside the prices of that moment's day."""
    limit = session.execute(_limit(org_of(session))).scalar_one()
    _fill(session, price_list, limit, at)
    return _jumps(_counts(session)), limit


def _limit(org_id: UUID) -> Any:
    return select(Organisation.price_jump_percent).where(Organisation.org_id == org_id)


def _fill(session: Session, price_list: PriceList, limit: Decimal, at: datetime | None = None) -> None:
    org_id = org_of(session)
    day = _day(session, price_list, at)
    before = held(
        org_id,
        day,
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
    session.execute(text(DROP_LAPSED))
    session.execute(text(CREATE))
    session.execute(insert(CHANGES).from_select(NAMES, _compared(own, before, limit)))
    take_lapsed(session, price_list, day, limit)
    hold_new_packs(session, limit)


def _day(session: Session, price_list: PriceList, at: datetime | None) -> date:
    """The list's first day; where that is over and it overrides what holds today, today."""
    org_id = org_of(session)
    today, begins = session.execute(
        select(day_of(org_id, func.now()), day_of(org_id, at or func.now()))
    ).one()
    first = price_list.valid_from if at is None else max(price_list.valid_from, begins)
    ended = price_list.valid_until is not None and price_list.valid_until < today
    if first >= today or ended:
        return first
    return first if session.scalar(_outdone(price_list, today)) else today


def _outdone(price_list: PriceList, today: date) -> Any:
    """Whether a list of the same kind that holds today counts before this one."""
    own = tuple_(literal(price_list.priority), literal(price_list.valid_from))
    return select(
        exists().where(
            PriceList.org_id == price_list.org_id,
            PriceList.supplier_id == price_list.supplier_id,
            PriceList.kind == price_list.kind,
            PriceList.id != price_list.id,
            PriceList.state == "active",
            PriceList.valid_from <= today,
            or_(PriceList.holds_from.is_(None), PriceList.holds_from <= func.now()),
            or_(PriceList.valid_until.is_(None), PriceList.valid_until >= today),
            tuple_(PriceList.priority, PriceList.valid_from) > own,
        )
    )


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
