"""Price books for several take-offs, each loaded once with all that any of them needs."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import date
from uuid import UUID

from sqlalchemy.orm import Session

from service.pricing.market import Market
from service.pricing.model import PriceBook, Rounding
from service.pricing.terms import serving
from service.quoting.needs import needs_of
from service.store.exchange_rates import Rates
from service.store.prices import load_price_book
from service.takeoff.answer import Takeoff


class Books:
    """Stands in for `load_price_book` and `Market` where several take-offs are priced."""

    def __init__(self, takeoffs: Iterable[Takeoff]) -> None:
        needs = [need for takeoff in takeoffs for need in needs_of(takeoff.materials)]
        self._roles = {role for need in needs for role in serving(need.role)}
        self._chosen = {UUID(need.product) for need in needs if need.product is not None}
        self._books: dict[tuple[date, str, tuple[UUID, ...]], PriceBook] = {}
        self._markets: dict[tuple[int, Rounding], Market] = {}

    def book(
        self,
        session: Session,
        roles: Collection[str],
        day: date,
        currency: str,
        job_offers: Collection[UUID] = (),
        chosen: Collection[UUID] = (),
        rates: Rates | None = None,
    ) -> PriceBook:
        """The book of all that any of the take-offs needs."""
        key = day, currency, tuple(job_offers)
        if key not in self._books:
            self._books[key] = load_price_book(session, self._roles, *key, self._chosen, rates)
        return self._books[key]

    def market(self, book: PriceBook, rounding: Rounding) -> Market:
        """What was asked of the market for one take-off is known for the next."""
        key = id(book), rounding
        if key not in self._markets:
            self._markets[key] = Market(book, rounding)
        return self._markets[key]
