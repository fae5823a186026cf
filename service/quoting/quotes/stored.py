"""A quote read back: one of its revisions with what was reckoned, and where the quote stands."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from service.pricing.model import DayWork, Priced
from service.quoting.errors import NotFound
from service.quoting.quotes.alternatives import Option, read_options
from service.quoting.quotes.kept import priced_of
from service.quoting.snapshot import from_json
from service.store import quotes as store
from service.store import rows
from service.store.models import Customer, Quote, QuoteEvent, QuoteRevision
from service.takeoff.answer import Takeoff

CUSTOMER_FIELDS = ("name", "email", "phone", "address", "note", "kind", "locale", "tax_number")


@dataclass(frozen=True, slots=True)
class StoredQuote:
    """One revision of a quote; `priced` is None for a floor that must not be built so.

    `state` is the revision's own, `current_revision` the newest one, `offered_revision` the newest that was
    issued, `draft_revision` the newest while it is a draft. `body` is the request, with the customer as the
    office has them now, `basis` the rates, terms and own trade values as they were.
    """

    id: UUID
    number: str
    revision: int
    state: str
    body: Mapping[str, Any]
    basis: Mapping[str, Any]
    takeoff: Takeoff
    priced: Priced | None
    currency: str
    price_date: date
    valid_until: date
    versions: Mapping[str, str]
    created_at: datetime
    version: int
    prices_changed_at: datetime | None
    current_revision: int = 1
    offered_revision: int | None = None
    draft_revision: int | None = None
    parent_id: UUID | None = None
    customer_id: UUID | None = None
    issued_at: datetime | None = None
    acceptance: Mapping[str, Any] | None = None
    day_work: tuple[DayWork, ...] = ()
    options: tuple[Option, ...] = ()

    @property
    def customer(self) -> Mapping[str, Any] | None:
        """The customer as the office has them now; None for a quote to nobody yet."""
        return self.body.get("customer")

    def option(self, name: str) -> Option | None:
        return next((option for option in self.options if option.name == name), None)

    def with_option(self, option: Option) -> StoredQuote:
        """The quote as it is where the option takes the place of what it stands beside."""
        return replace(self, takeoff=option.takeoff, priced=option.priced)


def get_quote(session: Session, quote_id: UUID, revision: int | None = None) -> StoredQuote:
    """A revision of a quote, without one that which stands for it: the offer, else the draft.

    NotFound where the organisation has no such quote or the quote no such revision.
    """
    quote = store.find_quote(session, quote_id)
    if quote is None:
        raise NotFound("quote")
    return read(session, quote, quote.standing_revision if revision is None else revision)


def read(session: Session, quote: Quote, number: int) -> StoredQuote:
    """One revision of a quote as stored."""
    written = written_of(session, quote, number)
    takeoff = from_json(written.revision.takeoff, Takeoff)
    priced = priced_of(written.revision, store.lines_of(session, quote.id, number))
    options = read_options(store.options_of(session, quote.id, number))
    return stored(session, written, takeoff, priced, options)


def written_of(session: Session, quote: Quote, number: int) -> store.Written:
    """One revision of a quote with all that happened to the quote."""
    return store.Written(quote, revision_of(session, quote, number), store.events_of(session, quote.id))


def revision_of(session: Session, quote: Quote, number: int) -> QuoteRevision:
    revision = store.find_revision(session, quote.id, number)
    if revision is None:
        raise NotFound("revision of this quote")
    return revision


def stored(
    session: Session,
    written: store.Written,
    takeoff: Takeoff,
    priced: Priced | None,
    options: tuple[Option, ...] = (),
) -> StoredQuote:
    quote, revision, events = written.quote, written.revision, written.events
    if revision.valid_until is None or quote.number is None:
        raise NotFound("quote")
    basis = revision.basis
    happened = [event for event in events if event.revision == revision.revision]
    issued = next((event for event in happened if event.kind == "issued"), None)
    return StoredQuote(
        id=quote.id,
        number=quote.number,
        revision=revision.revision,
        state=happened[-1].kind,
        body=_body(session, revision),
        basis=basis,
        takeoff=takeoff,
        priced=priced,
        currency=revision.currency,
        price_date=revision.price_date,
        valid_until=(issued.valid_until if issued else None) or revision.valid_until,
        versions=_versions(revision, basis),
        created_at=quote.created_at,
        version=quote.version,
        prices_changed_at=quote.prices_changed_at,
        current_revision=quote.current_revision,
        offered_revision=quote.offered_revision,
        draft_revision=_draft(quote, events),
        parent_id=quote.parent_id,
        customer_id=revision.customer_id,
        issued_at=issued.at if issued else None,
        acceptance=_acceptance(happened[-1]),
        day_work=from_json(basis.get("terms", {}).get("day_work", []), tuple[DayWork, ...]),
        options=options,
    )


def _draft(quote: Quote, events: Sequence[QuoteEvent]) -> int | None:
    """The newest revision while nothing but its making happened to it."""
    newest = [event.kind for event in events if event.revision == quote.current_revision]
    return quote.current_revision if newest == ["draft"] else None


def _acceptance(last: QuoteEvent) -> dict[str, Any] | None:
    if last.kind != "accepted":
        return None
    return {"accepted_by": last.by, "accepted_at": last.at, "reference": last.reference, **(last.scope or {})}


def _body(session: Session, revision: QuoteRevision) -> dict[str, Any]:
    customer = None
    if revision.customer_id is not None:
        customer = rows.find(session, Customer, revision.customer_id)
    known = {name: getattr(customer, name) for name in CUSTOMER_FIELDS} if customer else None
    return {**revision.request, "customer": known} if known else dict(revision.request)


def _versions(revision: QuoteRevision, basis: Mapping[str, Any]) -> dict[str, str]:
    """What the figures came from; rates and terms by id and fingerprint, since an office may edit them."""
    return {
        "trade_edition": revision.trade_edition,
        **{name: str(version) for name, version in sorted(basis.get("versions", {}).items())},
        "engine": revision.engine_version,
    }
