"""From a job to a priced, numbered, stored draft."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from service.pricing import price
from service.pricing.market import Market
from service.pricing.model import PriceBook, Priced, Rounding
from service.pricing.terms import serving
from service.quoting import catalogue
from service.quoting.basis import Basis, QuoteRequest, basis_for
from service.quoting.catalogue import CUSTOMERS, UnknownReference
from service.quoting.errors import Unpriceable
from service.quoting.needs import hours_of, needs_of
from service.quoting.notices import with_notices
from service.quoting.quotes.actor import Actor
from service.quoting.quotes.kept import kept_lines, kept_rest, kept_sums
from service.quoting.quotes.stored import CUSTOMER_FIELDS, StoredQuote, revision_of, stored
from service.quoting.refusals import without_system
from service.quoting.snapshot import to_json
from service.store import quotes as store
from service.store import rows
from service.store.prices import load_price_book
from service.takeoff import take_off
from service.takeoff.answer import Takeoff

MarketOf = Callable[[PriceBook, Rounding], Market]
"""What makes a price book ready to be asked."""
BookOf = Callable[..., PriceBook]
"""What loads a price book as `load_price_book` does."""

ENGINE_VERSION = "1"
"""Raised by hand whenever the same inputs would give other figures."""


@dataclass(frozen=True, slots=True)
class Reckoned:
    """A request taken off and priced, on what it rests."""

    request: QuoteRequest
    basis: Basis
    takeoff: Takeoff
    priced: Priced | None


def make_quote(
    session: Session, request: QuoteRequest, now: datetime, key_id: UUID | None = None
) -> StoredQuote:
    """Take off, price, store, number: in the caller's transaction, so that all of it holds or none.

    Raises Unpriceable where a need cannot be bought, unless the floor is refused anyway, Unready where the
    office has no labour rates or terms, UnknownReference for terms or a customer that do not exist and for
    a day before the first trade values.
    """
    reckoned = reckon(session, request, now)
    snapshot = snapshot_of(reckoned, customer_of(session, request))
    quote = store.add_quote(session, snapshot, Actor(now, key_id).says())
    store.give_number(session, quote, reckoned.basis.today.year)
    return stored(session, quote, revision_of(session, quote, 1), reckoned.takeoff, reckoned.priced)


def reckon(session: Session, request: QuoteRequest, now: datetime) -> Reckoned:
    """Take off and price a request made `now`; nothing is stored."""
    basis = basis_for(session, request, now)
    planned = take_off(request.job, basis.values, basis.labour)
    takeoff, priced = price_takeoff(session, planned, basis)
    return Reckoned(request, basis, takeoff, priced)


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
    book = book_of(session, roles, basis.day, basis.currency, chosen=chosen)
    hours, hourly_cost = hours_of(takeoff.labour), basis.labour.hourly_cost
    market = market_of(book, basis.terms.rounding)
    priced = price(needs, hours, hourly_cost, book, basis.terms, basis.buying, basis.days_to_start, market)
    if not priced.gaps:
        return takeoff, with_notices(session, priced, basis.valid_until)
    if any(gap.reason != "no_system" for gap in priced.gaps):
        raise Unpriceable(priced.gaps)
    return without_system(takeoff, priced.gaps), None


def for_customer(request: QuoteRequest, known: UUID | None) -> QuoteRequest:
    """The request for the customer that is known, where it names nobody."""
    named = request.customer is not None or request.customer_id is not None
    return request if named else replace(request, customer_id=known)


def customer_of(session: Session, request: QuoteRequest, known: UUID | None = None) -> UUID | None:
    """The customer named, or by what was said of them: the `known` one where it is they, else a new one.

    Where nobody is named the known one stays; None for a quote to nobody yet.
    """
    if request.customer is not None:
        return (
            _same(session, known, request.customer) or catalogue.add(session, CUSTOMERS, request.customer).id
        )
    if request.customer_id is None:
        return known
    if rows.find(session, CUSTOMERS.model, request.customer_id) is None:
        raise UnknownReference("/customer_id", "No such customer.")
    return request.customer_id


def _same(session: Session, known: UUID | None, said: Mapping[str, Any]) -> UUID | None:
    row = None if known is None else rows.find(session, CUSTOMERS.model, known)
    is_they = row is not None and all(getattr(row, name) == said.get(name) for name in CUSTOMER_FIELDS)
    return known if is_they else None


def snapshot_of(reckoned: Reckoned, customer_id: UUID | None) -> store.Snapshot:
    """What the revision keeps; of the customer only the id, so that their data can be deleted."""
    request, basis, priced = reckoned.request, reckoned.basis, reckoned.priced
    return store.Snapshot(
        request=_nameless(request.body, customer_id),
        takeoff=to_json(reckoned.takeoff),
        basis=basis.kept,
        conditions=basis.conditions,
        lines=kept_lines(priced),
        sums=kept_sums(priced),
        rest=kept_rest(priced),
        price_date=basis.day,
        valid_until=basis.valid_until,
        currency=basis.currency,
        trade_edition=reckoned.takeoff.trade_edition,
        labour_table_id=UUID(basis.labour.id),
        terms_id=UUID(basis.terms.id),
        engine_version=ENGINE_VERSION,
        customer_id=customer_id,
    )


def _nameless(body: Mapping[str, Any], customer_id: UUID | None) -> dict[str, Any]:
    kept = {name: value for name, value in body.items() if name not in {"customer", "customer_id"}}
    return kept if customer_id is None else {**kept, "customer_id": str(customer_id)}
