"""Further revisions of a quote: drafts beside the offer, which only issuing them replaces."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from service.quoting.basis import QuoteRequest
from service.quoting.catalogue import Versions
from service.quoting.errors import Conflict, NotFound
from service.quoting.quotes.actor import Actor
from service.quoting.quotes.make import as_stored, customer_of, for_customer, reckon, snapshot_of
from service.quoting.quotes.step import in_order, locked, unlocked
from service.quoting.quotes.stored import StoredQuote, revision_of
from service.store import quotes as store
from service.store.models import Quote, QuoteEvent, QuoteRevision


@dataclass(frozen=True, slots=True)
class RevisionHead:
    """A revision in a list, with what happened to it."""

    revision: int
    state: str
    currency: str
    net: Decimal | None
    tax: Decimal | None
    gross: Decimal | None
    price_date: date
    valid_until: date | None
    created_at: datetime
    events: tuple[QuoteEvent, ...]


def last_request(session: Session, quote_id: UUID) -> dict[str, Any]:
    """The request of the newest revision, to be patched; the customer in it by id."""
    quote = store.find_quote(session, quote_id)
    if quote is None:
        raise NotFound("quote")
    return dict(revision_of(session, quote, quote.current_revision).request)


def revise(
    session: Session, quote_id: UUID, expected: Versions, request: QuoteRequest, actor: Actor
) -> StoredQuote:
    """A new draft, taken off and priced anew; the offer that the customer holds stays as it is.

    Conflict for an accepted quote: what changes after that is a variation.
    """
    before = unlocked(session, quote_id, expected)
    _revisable(before)
    known = revision_of(session, before, before.current_revision).customer_id
    request = for_customer(request, known)
    reckoned = reckon(session, request, actor.now)  # before the lock, since it takes its time
    quote = locked(session, quote_id, expected)
    _revisable(quote)
    snapshot = snapshot_of(reckoned, customer_of(session, request, known))
    with in_order():
        written = store.add_revision(session, quote, snapshot, actor.says())
    return as_stored(session, written, reckoned)


def _revisable(quote: Quote) -> None:
    if quote.state == "accepted":
        raise Conflict("the quote is accepted; what changes now is a variation of it")


def revisions(session: Session, quote_id: UUID) -> Sequence[RevisionHead]:
    """All revisions, the oldest first."""
    quote = store.find_quote(session, quote_id)
    if quote is None:
        raise NotFound("quote")
    events = store.events_of(session, quote.id)
    return [_head(row, events) for row in store.revisions_of(session, quote.id)]


def _head(row: QuoteRevision, events: Sequence[QuoteEvent]) -> RevisionHead:
    own = tuple(event for event in events if event.revision == row.revision)
    issued = [event.valid_until for event in own if event.kind == "issued"]
    return RevisionHead(
        revision=row.revision,
        state=own[-1].kind,
        currency=row.currency,
        net=row.net,
        tax=row.tax,
        gross=row.gross,
        price_date=row.price_date,
        valid_until=issued[0] if issued else row.valid_until,
        created_at=row.created_at,
        events=own,
    )
