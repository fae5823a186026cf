"""Quotes: from a job to a priced, numbered, stored draft, and back from the store."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from service.pricing import price
from service.pricing.model import Priced
from service.pricing.terms import serving
from service.quoting import catalogue
from service.quoting.basis import Basis, QuoteRequest, basis_for
from service.quoting.catalogue import CUSTOMERS, UnknownReference
from service.quoting.errors import NotFound, Unpriceable
from service.quoting.needs import hours_of, needs_of
from service.quoting.refusals import without_system
from service.quoting.snapshot import from_json, to_json
from service.store import quotes as store
from service.store import rows
from service.store.models import Quote, QuoteRevision
from service.store.prices import load_price_book
from service.takeoff import take_off
from service.takeoff.answer import Takeoff

ENGINE_VERSION = "1"
"""Raised by hand whenever the same inputs would give other figures."""


@dataclass(frozen=True, slots=True)
class StoredQuote:
    """A quote's current revision as stored; `priced` is None for a floor that must not be built so."""

    id: UUID
    number: str
    revision: int
    state: str
    body: Mapping[str, Any]
    takeoff: Takeoff
    priced: Priced | None
    currency: str
    price_date: date
    valid_until: date
    versions: Mapping[str, str]
    created_at: datetime
    version: int
    prices_changed_at: datetime | None


@dataclass(frozen=True, slots=True)
class QuoteHead:
    """A quote in a list."""

    id: UUID
    number: str | None
    revision: int
    state: str
    currency: str
    gross: Decimal | None
    price_date: date
    valid_until: date | None
    created_at: datetime
    prices_changed_at: datetime | None


def make_quote(session: Session, request: QuoteRequest, now: datetime) -> StoredQuote:
    """Take off, price, store, number: in the caller's transaction, so that all of it holds or none.

    Raises Unpriceable where a need cannot be bought, unless the floor is refused anyway, Unready where the
    office has no labour rates or terms, UnknownReference for terms or a customer that do not exist and for
    a day before the first trade values.
    """
    basis = basis_for(session, request, now)
    planned = take_off(request.job, basis.values, basis.labour)
    takeoff, priced = price_takeoff(session, planned, basis)
    customer = _customer(session, request)
    quote = store.add_quote(session, _snapshot(request, takeoff, priced, basis), customer)
    store.give_number(session, quote, basis.today.year)
    return _stored(quote, _current(session, quote), takeoff, priced)


def price_takeoff(session: Session, takeoff: Takeoff, basis: Basis) -> tuple[Takeoff, Priced | None]:
    """Price a take-off; Unpriceable where a need cannot be bought. A refused floor gets no price.

    Where only a sealed system lacks parts the floor itself must not be built so: a finding refuses it.
    """
    if takeoff.refused:
        return takeoff, None
    needs = needs_of(takeoff.materials)
    roles = {role for need in needs for role in serving(need.role)}
    chosen = [UUID(need.product) for need in needs if need.product is not None]
    book = load_price_book(session, roles, basis.day, basis.currency, chosen=chosen)
    priced = price(needs, hours_of(takeoff.labour), basis.labour.hourly_cost, book, basis.terms)
    if not priced.gaps:
        return takeoff, priced
    if any(gap.reason != "no_system" for gap in priced.gaps):
        raise Unpriceable(priced.gaps)
    return without_system(takeoff, priced.gaps), None


def get_quote(session: Session, quote_id: UUID) -> StoredQuote:
    """The quote's current revision; NotFound where the organisation has no such quote."""
    quote = store.find_quote(session, quote_id)
    if quote is None:
        raise NotFound("quote")
    return _read(session, quote)


def list_quotes(
    session: Session, limit: int, after: rows.Cursor | None = None, state: str | None = None
) -> Sequence[QuoteHead]:
    """Newest first, after the cursor."""
    return [_head(quote, revision) for quote, revision in store.list_heads(session, limit, after, state)]


def _head(quote: Quote, revision: QuoteRevision) -> QuoteHead:
    return QuoteHead(
        id=quote.id,
        number=quote.number,
        revision=quote.current_revision,
        state=quote.state,
        currency=revision.currency,
        gross=revision.gross,
        price_date=revision.price_date,
        valid_until=revision.valid_until,
        created_at=quote.created_at,
        prices_changed_at=quote.prices_changed_at,
    )


def _customer(session: Session, request: QuoteRequest) -> UUID | None:
    """The customer named, or a new one by what was said of them; None for a quote to nobody yet."""
    if request.customer is not None:
        return catalogue.add(session, CUSTOMERS, request.customer).id
    if request.customer_id is not None and rows.find(session, CUSTOMERS.model, request.customer_id) is None:
        raise UnknownReference("/customer_id", "No such customer.")
    return request.customer_id


def _snapshot(request: QuoteRequest, takeoff: Takeoff, priced: Priced | None, basis: Basis) -> store.Snapshot:
    totals = priced.totals if priced else None
    return store.Snapshot(
        request=request.body,
        takeoff=to_json(takeoff),
        priced=to_json(priced) if priced else {},
        basis=basis.kept,
        lines=priced.lines if priced else (),
        price_date=basis.day,
        valid_until=basis.today + timedelta(days=request.valid_days or basis.terms.valid_days),
        currency=basis.currency,
        net=totals.net if totals else None,
        tax=totals.tax if totals else None,
        gross=totals.gross if totals else None,
        trade_edition=takeoff.trade_edition,
        labour_table_id=UUID(basis.labour.id),
        terms_id=UUID(basis.terms.id),
        engine_version=ENGINE_VERSION,
    )


def _read(session: Session, quote: Quote) -> StoredQuote:
    revision = _current(session, quote)
    takeoff = from_json(revision.takeoff, Takeoff)
    return _stored(quote, revision, takeoff, from_json(revision.priced, Priced) if revision.priced else None)


def _current(session: Session, quote: Quote) -> QuoteRevision:
    revision = store.find_revision(session, quote.id, quote.current_revision)
    if revision is None:
        raise NotFound("quote")
    return revision


def _stored(quote: Quote, revision: QuoteRevision, takeoff: Takeoff, priced: Priced | None) -> StoredQuote:
    if revision.valid_until is None or quote.number is None:
        raise NotFound("quote")
    return StoredQuote(
        id=quote.id,
        number=quote.number,
        revision=revision.revision,
        state=quote.state,
        body=revision.request,
        takeoff=takeoff,
        priced=priced,
        currency=revision.currency,
        price_date=revision.price_date,
        valid_until=revision.valid_until,
        versions=_versions(revision),
        created_at=quote.created_at,
        version=quote.version,
        prices_changed_at=quote.prices_changed_at,
    )


def _versions(revision: QuoteRevision) -> dict[str, str]:
    """What the figures came from; rates and terms by id and fingerprint, since an office may edit them."""
    return {
        "trade_edition": revision.trade_edition,
        **{name: str(version) for name, version in revision.basis.get("versions", {}).items()},
        "engine": revision.engine_version,
    }
