"""What the document of a quote is made from: the organisation, the customer, one revision."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlalchemy.orm import Session

from service.quoting import office
from service.quoting.errors import NotFound
from service.quoting.quotes import StoredQuote, get_quote
from service.store import quotes as store
from service.store import rows
from service.store.models import Customer, Organisation


@dataclass(frozen=True, slots=True)
class Gathered:
    """`made_on` is the day of the offer where the organisation works."""

    organisation: Organisation
    customer: Customer | None
    quote: StoredQuote
    made_on: date


def gather(session: Session, quote_id: UUID, revision: int | None = None) -> Gathered:
    """A revision of the quote with its customer as the office has them now; NotFound where there is none."""
    quote = get_quote(session, quote_id)
    if revision not in (None, quote.revision):
        raise NotFound("revision of this quote")
    organisation = office.organisation(session)
    row = store.find_quote(session, quote_id)
    customer_id = row.customer_id if row else None
    customer = rows.find(session, Customer, customer_id) if customer_id else None
    made_on = quote.created_at.astimezone(ZoneInfo(organisation.time_zone)).date()
    return Gathered(organisation, customer, quote, made_on)
