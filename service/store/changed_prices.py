"""Which open quotes a new price list concerns."""

from __future__ import annotations

from datetime import date
from typing import Any
from uuid import UUID

from sqlalchemy import Numeric, func, select, update
from sqlalchemy import cast as cast_to
from sqlalchemy.orm import Session, aliased

from service.store import rows
from service.store.in_force import day_of, held
from service.store.life import OPEN_STATES
from service.store.models import PriceItem, PriceList, Quote, QuoteLine

CONVERTED_PLACES = 4
"""Decimals of a price that was converted, halves away from zero."""


def note_price_change(session: Session, price_list_id: UUID) -> int:
    """Mark the open quotes that hold a product whose price this list changes; returns how many.

    Compared is what holds for the same supplier's same pack at the number of packs that the quote buys, from
    the list's first day on: with the agreements, at the rate of exchange that the quote was made with. A pack
    that is no longer sold is a change; a promotion changes nothing that it does not name. What was bought by
    an offer for one job is left alone. The mark is the list's time of activation, so marking
    twice changes nothing.
    """
    price_list = rows.find(session, PriceList, price_list_id)
    if price_list is None or price_list.kind == "job_offer":
        return 0
    touched = (
        select(Quote.id)
        .where(
            Quote.org_id == price_list.org_id,
            Quote.state.in_(OPEN_STATES),
            func.coalesce(Quote.prices_changed_at < price_list.activated_at, True),
            _holds_other_price(price_list, session.execute(_first_day(price_list)).scalar_one()),
        )
        .order_by(Quote.id)  # two lists at once, or a repricing, lock in one order
        .with_for_update(key_share=True)
        .cte("touched")
    )
    statement = (
        update(Quote)
        .where(Quote.org_id == price_list.org_id, Quote.id.in_(select(touched.c.id)))
        .values(prices_changed_at=price_list.activated_at)
    )
    marked = session.execute(statement.returning(Quote.id), execution_options={"synchronize_session": False})
    return len(marked.all())


def _first_day(price_list: PriceList) -> Any:
    """Today where the office is, or later the list's first day."""
    return select(func.greatest(day_of(price_list.org_id, func.now()), price_list.valid_from))


def _holds_other_price(price_list: PriceList, day: date) -> Any:
    """The prices are made once and joined to lines by product: one look-up a line does not end in hours."""
    then = _prices(price_list, day)
    holder, bought_by = aliased(Quote), aliased(PriceList)
    rate = cast_to(QuoteLine.exchange["rate"].astext, Numeric)
    holders = (
        select(QuoteLine.quote_id)
        .outerjoin(
            then,
            (then.c.product_id == QuoteLine.product_id)
            & (then.c.pack_size == QuoteLine.pack_size)
            & (then.c.min_packs <= QuoteLine.packs)
            & func.coalesce(then.c.below_packs > QuoteLine.packs, True),
        )
        .outerjoin(
            bought_by, (bought_by.org_id == QuoteLine.org_id) & (bought_by.id == QuoteLine.price_list_id)
        )
        .join(holder, (holder.org_id == QuoteLine.org_id) & (holder.id == QuoteLine.quote_id))
        .where(
            QuoteLine.org_id == price_list.org_id,
            QuoteLine.revision.in_((holder.current_revision, holder.offered_revision)),
            QuoteLine.supplier_id == price_list.supplier_id,
            holder.state.in_(OPEN_STATES),
            bought_by.kind.is_distinct_from("job_offer"),
            *_named_by(price_list),
            func.coalesce(func.round(then.c.price * rate, CONVERTED_PLACES), then.c.price).is_distinct_from(
                QuoteLine.cost
            ),
        )
    )
    return Quote.id.in_(holders)


def _prices(price_list: PriceList, day: date) -> Any:
    """What the supplier's packs cost on the day, from and below a number of packs."""
    supplier = PriceList.supplier_id == price_list.supplier_id
    sold = held(price_list.org_id, day, (), supplier).subquery()
    pack = (sold.c.product_id, sold.c.pack_size)
    below = func.lead(sold.c.min_packs).over(partition_by=pack, order_by=sold.c.min_packs)
    told = select(*pack, sold.c.min_packs, below.label("below_packs"), sold.c.price)
    return told.cte("prices_then").prefix_with("MATERIALIZED")


def _named_by(price_list: PriceList) -> list[Any]:
    """What keeps to the products of a promotion; a regular list is about all that its supplier sells."""
    if price_list.kind == "regular":
        return []
    named = select(PriceItem.product_id).where(
        PriceItem.org_id == price_list.org_id, PriceItem.price_list_id == price_list.id
    )
    return [QuoteLine.product_id.in_(named)]
