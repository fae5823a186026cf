"""From a job to a priced, numbered, stored draft."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from service.pricing.model import Priced
from service.quoting import catalogue
from service.quoting.basis import Basis, QuoteRequest
from service.quoting.catalogue import CUSTOMERS, UnknownReference
from service.quoting.quotes.actor import Actor
from service.quoting.quotes.alternatives import Option, kept_options, options_of
from service.quoting.quotes.kept import kept_lines, kept_rest, kept_sums
from service.quoting.quotes.stored import CUSTOMER_FIELDS, StoredQuote, stored
from service.quoting.snapshot import to_json
from service.quoting.variants import Asked, BadOption, BadVariant, compare
from service.store import quotes as store
from service.store import rows
from service.store.revisions import Snapshot
from service.takeoff.answer import Takeoff

ENGINE_VERSION = "1"
"""Raised by hand whenever the same inputs would give other figures."""


@dataclass(frozen=True, slots=True)
class Reckoned:
    """A request taken off and priced, on what it rests, and its options."""

    request: QuoteRequest
    basis: Basis
    takeoff: Takeoff
    priced: Priced | None
    options: tuple[Option, ...] = ()


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
    written = store.add_quote(session, snapshot, Actor(now, key_id).says())
    store.give_number(session, written.quote, reckoned.basis.today.year)
    return as_stored(session, written, reckoned)


def as_stored(session: Session, written: store.Written, reckoned: Reckoned) -> StoredQuote:
    """The revision just written, without reading back what was reckoned."""
    return stored(session, written, reckoned.takeoff, reckoned.priced, reckoned.options)


def reckon(session: Session, request: QuoteRequest, now: datetime) -> Reckoned:
    """Take off and price a request made `now` and its options; nothing is stored.

    Options share what variants share; BadOption names one that cannot be.
    """
    asked = [Asked("", request.job), *(Asked(option.name, option.job) for option in request.options)]
    try:
        found = compare(session, request, asked, now)
    except BadVariant as bad:
        raise (BadOption(bad.number - 1, bad.fault) if bad.number else bad.fault) from bad
    first = found.variants[0]
    return Reckoned(request, found.basis, first.takeoff, first.priced, options_of(request, found))


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


def snapshot_of(reckoned: Reckoned, customer_id: UUID | None) -> Snapshot:
    """What the revision keeps; of the customer only the id, so that their data can be deleted."""
    request, basis, priced = reckoned.request, reckoned.basis, reckoned.priced
    return Snapshot(
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
        options=kept_options(reckoned.options),
    )


def _nameless(body: Mapping[str, Any], customer_id: UUID | None) -> dict[str, Any]:
    kept = {name: value for name, value in body.items() if name not in {"customer", "customer_id"}}
    return kept if customer_id is None else {**kept, "customer_id": str(customer_id)}
