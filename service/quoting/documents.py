"""What the document of a quote is made from: the organisation, the customer, one revision."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlalchemy.orm import Session

from service.quoting import office
from service.quoting.quotes import StoredQuote, get_quote
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
    quote = get_quote(session, quote_id, revision)
    organisation = office.organisation(session)
    customer = rows.find(session, Customer, quote.customer_id) if quote.customer_id else None
    made_at = quote.issued_at or quote.created_at
    made_on = made_at.astimezone(ZoneInfo(organisation.time_zone)).date()
    return Gathered(organisation, customer, quote, made_on)
