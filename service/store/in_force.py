"""What holds on a day, as one statement: of each supplier's lists the one that counts, and the agreements.

The rule: of a supplier's regular lists that hold at the day's last moment (today: now) the one of the highest
priority counts, then the one that began last, then the one activated last; it stands in place of the others
whole, so that what it leaves out is no longer sold. Beside it promotions and offers for one job hold for the
products that they name: by product the same order decides. An agreement
changes the prices of regular lists only, since a promotion and an offer for one job are net as they stand.
One by product goes before one by role, then the one that began last, then the one written last; one counts.
A percentage is taken off the list's net price; a fixed price stands for its pack size at any number of packs.

Lists and agreements may be written for days that are over. `known` is the moment of which the knowledge is
asked: what was activated or agreed later is not in it, nor what was withdrawn later out of it. So a day that
is over can be told as it was told then, and as it is known now.
"""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlalchemy import (
    ColumnElement,
    Date,
    DateTime,
    Interval,
    case,
    cast,
    func,
    literal,
    or_,
    select,
    true,
)
from sqlalchemy.orm import Session

from service.store.models import Agreement, Organisation, PriceItem, PriceList, ProductRow, Supplier
from service.store.session import org_of

HUNDREDTH = Decimal("0.01")
FIRST_COUNTS = (
    PriceList.priority.desc(),
    PriceList.valid_from.desc(),
    PriceList.activated_at.desc(),
    PriceList.id,
)
"""Of lists that hold at the same time."""
ITEM = ("id", "created_at", "product_id", "price_list_id", "pack_size", "min_packs", "split", "price")
"""What is told of an item. It is carried through the ranking: joined to it again by its id, the ranking was
made anew for each item of the office wherever the planner did not know of rows just imported."""


def zone_of(org_id: UUID) -> ColumnElement[str]:
    """Of time, where the office is."""
    return select(Organisation.time_zone).where(Organisation.org_id == org_id).scalar_subquery()


def day_of(org_id: UUID, moment: Any) -> ColumnElement[date]:
    """The day that a moment falls on where the office is."""
    return cast(func.timezone(zone_of(org_id), moment), Date)


def last_moment(org_id: UUID, day: date) -> ColumnElement[Any]:
    """The end of the day where the office is, and for today the moment now."""
    next_day = cast(literal(day + timedelta(days=1), Date), DateTime)
    tick = cast(literal("1 microsecond"), Interval)
    return case(
        (day_of(org_id, func.now()) == day, func.now()),
        else_=func.timezone(zone_of(org_id), next_day) - tick,
    )


def held(
    org_id: UUID,
    day: date,
    job_offers: Collection[UUID],
    *where: ColumnElement[bool],
    known: ColumnElement[Any] | None = None,
    without: UUID | None = None,
) -> Any:
    """The items of the winning list of each supplier and product, each with its agreement and its price.

    `where` narrows suppliers and products, `without` leaves a list out of the question; `known` is now where
    it is not given.
    """
    known = func.now() if known is None else known
    place = func.rank().over(
        partition_by=(PriceList.supplier_id, PriceItem.product_id), order_by=FIRST_COUNTS
    )
    held = (
        select(
            *(getattr(PriceItem, name) for name in ITEM),
            PriceList.supplier_id,
            PriceList.kind,
            ProductRow.role,
            place.label("place"),
        )
        .select_from(PriceList)
        .join(PriceItem, (PriceItem.org_id == PriceList.org_id) & (PriceItem.price_list_id == PriceList.id))
        .join(ProductRow, (ProductRow.org_id == PriceItem.org_id) & (ProductRow.id == PriceItem.product_id))
        .join(Supplier, (Supplier.org_id == PriceList.org_id) & (Supplier.id == PriceList.supplier_id))
        .where(
            PriceList.org_id == org_id,
            PriceList.id.in_(_lists_that_count(org_id, day, job_offers, known, without)),
            *where,
        )
        .subquery()
    )
    return _with_agreement(org_id, day, held, known)


def _lists_that_count(
    org_id: UUID, day: date, job_offers: Collection[UUID], known: ColumnElement[Any], without: UUID | None
) -> Any:
    """The lists that hold: of each supplier's regular ones the first, all others."""
    place = func.row_number().over(
        partition_by=(PriceList.supplier_id, PriceList.kind), order_by=FIRST_COUNTS
    )
    on = _lists_on(org_id, day, job_offers, known)
    if without is not None:
        on.append(PriceList.id != without)
    ranked = select(PriceList.id, PriceList.kind, place.label("place")).where(*on).subquery()
    return select(ranked.c.id).where(or_(ranked.c.kind != "regular", ranked.c.place == 1))


def _lists_on(
    org_id: UUID, day: date, job_offers: Collection[UUID], known: ColumnElement[Any]
) -> list[ColumnElement[bool]]:
    moment = last_moment(org_id, day)
    return [
        PriceList.org_id == org_id,
        PriceList.activated_at <= known,
        or_(PriceList.state == "active", PriceList.withdrawn_at > func.least(moment, known)),
        or_(PriceList.holds_from.is_(None), PriceList.holds_from <= moment),
        PriceList.valid_from <= day,
        or_(PriceList.valid_until.is_(None), PriceList.valid_until >= day),
        or_(PriceList.kind != "job_offer", PriceList.id.in_(list(job_offers))),
    ]


def offers_on(session: Session, reference: str, day: date) -> list[UUID] | None:
    """The lists for one job of this reference that hold on the day; None where no such list was activated."""
    org_id = org_of(session)
    named = (
        PriceList.org_id == org_id,
        PriceList.kind == "job_offer",
        PriceList.reference == reference,
        PriceList.state != "draft",
    )
    known = list(session.scalars(select(PriceList.id).where(*named)))
    held = select(PriceList.id).where(*_lists_on(org_id, day, known, func.now())).where(*named)
    return list(session.scalars(held.order_by(PriceList.id))) if known else None


def _with_agreement(org_id: UUID, day: date, held: Any, known: ColumnElement[Any]) -> Any:
    agreed = _agreement_on(org_id, day, held, known)
    less_percent = held.c.price * (100 - func.coalesce(agreed.c.percent, 0)) * literal(HUNDREDTH)
    price = func.trim_scale(func.coalesce(agreed.c.price, less_percent))  # no division: it would round
    return (
        select(
            *(held.c[name] for name in ITEM if name != "price"),
            held.c.supplier_id,
            held.c.kind,
            held.c.price.label("list_net"),
            price.label("price"),
            agreed.c.id.label("agreement_id"),
        )
        .select_from(held)
        .outerjoin(agreed, true())
        .where(held.c.place == 1)
    )


def _agreement_on(org_id: UUID, day: date, held: Any, known: ColumnElement[Any]) -> Any:
    return (
        select(Agreement.id, Agreement.percent, Agreement.price)
        .where(
            held.c.kind == "regular",
            Agreement.org_id == org_id,
            Agreement.supplier_id == held.c.supplier_id,
            or_(Agreement.product_id == held.c.product_id, Agreement.role == held.c.role),
            or_(Agreement.pack_size.is_(None), Agreement.pack_size == held.c.pack_size),
            Agreement.created_at <= known,
            Agreement.valid_from <= day,
            or_(Agreement.valid_until.is_(None), Agreement.valid_until >= day),
        )
        .order_by(
            Agreement.product_id.is_(None),
            Agreement.valid_from.desc(),
            Agreement.created_at.desc(),
            Agreement.id.desc(),
        )
        .limit(1)
        .lateral("agreed")
    )
