"""Quotes in a list."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlalchemy.orm import Session

from service.quoting import office
from service.store import quote_lists, rows
from service.store.models import Quote, QuoteRevision


@dataclass(frozen=True, slots=True)
class QuoteHead:
    """A quote in a list, with the figures of the revision that stands for it."""

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
    current_revision: int
    offered_revision: int | None
    draft_revision: int | None
    customer_id: UUID | None
    parent_id: UUID | None


@dataclass(frozen=True, slots=True)
class Wanted:
    """What an office looks for; days are its own, both ends counted in. None asks nothing."""

    state: str | None = None
    customer_id: UUID | None = None
    parent_id: UUID | None = None
    product_id: UUID | None = None
    created_from: date | None = None
    created_to: date | None = None
    valid_from: date | None = None
    valid_to: date | None = None


def list_quotes(
    session: Session, limit: int, after: rows.Cursor | None = None, wanted: Wanted | None = None
) -> Sequence[QuoteHead]:
    """Newest first, after the cursor."""
    looked_for = _filter(wanted or Wanted(), ZoneInfo(office.organisation(session).time_zone))
    return [_head(*found) for found in quote_lists.list_heads(session, limit, after, looked_for)]


def _filter(wanted: Wanted, zone: ZoneInfo) -> quote_lists.Filter:
    """Days as the moments at which they begin where the office works."""

    def begin(day: date | None, later: int = 0) -> datetime | None:
        return None if day is None else datetime.combine(day + timedelta(days=later), time(), zone)

    return quote_lists.Filter(
        state=wanted.state,
        customer_id=wanted.customer_id,
        parent_id=wanted.parent_id,
        product_id=wanted.product_id,
        created_from=begin(wanted.created_from),
        created_before=begin(wanted.created_to, later=1),
        valid_from=wanted.valid_from,
        valid_to=wanted.valid_to,
    )


def _head(quote: Quote, revision: QuoteRevision, draft: int | None) -> QuoteHead:
    return QuoteHead(
        id=quote.id,
        number=quote.number,
        revision=revision.revision,
        state=quote.state,
        currency=revision.currency,
        gross=revision.gross,
        price_date=revision.price_date,
        valid_until=revision.valid_until
        if quote.state == "draft"
        else quote.valid_until or revision.valid_until,
        created_at=quote.created_at,
        prices_changed_at=quote.prices_changed_at,
        current_revision=quote.current_revision,
        offered_revision=quote.offered_revision,
        draft_revision=draft,
        customer_id=quote.customer_id,
        parent_id=quote.parent_id,
    )
