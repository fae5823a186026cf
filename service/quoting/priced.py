"""A take-off priced on what a quote rests on."""

from __future__ import annotations

from collections.abc import Callable
from uuid import UUID

from sqlalchemy.orm import Session

from service.pricing import price
from service.pricing.market import Market
from service.pricing.model import PriceBook, Priced, Rounding
from service.pricing.terms import serving
from service.quoting.basis import Basis
from service.quoting.errors import Unpriceable
from service.quoting.needs import hours_of, needs_of
from service.quoting.notices import with_notices
from service.quoting.refusals import without_system
from service.store.exchange_rates import Rates
from service.store.prices import load_price_book
from service.takeoff.answer import Takeoff

MarketOf = Callable[[PriceBook, Rounding], Market]
"""What makes a price book ready to be asked."""
BookOf = Callable[..., PriceBook]
"""What loads a price book as `load_price_book` does."""


def price_takeoff(
    session: Session,
    takeoff: Takeoff,
    basis: Basis,
    book_of: BookOf = load_price_book,
    market_of: MarketOf = Market,
) -> tuple[Takeoff, Priced | None]:
    """Price a take-off; Unpriceable where a need cannot be bought. A refused floor gets no price.

    Where only a sealed system lacks parts the floor itself must not be built so: a finding refuses it.
    """
    if takeoff.refused:
        return takeoff, None
    needs = needs_of(takeoff.materials)
    roles = {role for need in needs for role in serving(need.role)}
    chosen = [UUID(need.product) for need in needs if need.product is not None]
    rates = Rates(basis.currency, basis.exchange_rates)
    book = book_of(session, roles, basis.day, basis.currency, basis.job_offers, chosen, rates)
    hours, hourly_cost = hours_of(takeoff.labour), basis.labour.hourly_cost
    market = market_of(book, basis.terms.rounding)
    buying, days = basis.buying, basis.days_to_start
    priced = price(needs, hours, hourly_cost, book, basis.terms, buying, days, market, extras=basis.day_work)
    if not priced.gaps:
        return takeoff, with_notices(session, priced, basis)
    if any(gap.reason != "no_system" for gap in priced.gaps):
        raise Unpriceable(priced.gaps)
    return without_system(takeoff, priced.gaps), None
