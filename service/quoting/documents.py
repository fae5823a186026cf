"""What the document of a quote is made from: one revision, and what it prints of office and customer."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from uuid import UUID

from sqlalchemy.orm import Session

from service.quoting.imprints import Imprint, imprint
from service.quoting.office import local_day
from service.quoting.quotes import StoredQuote, as_accepted, get_quote


@dataclass(frozen=True, slots=True)
class Gathered:
    """`made_on` is the day of the offer where the organisation works; the quote is as it was accepted."""

    imprint: Imprint
    quote: StoredQuote
    made_on: date


def gather(session: Session, quote_id: UUID, revision: int | None = None) -> Gathered:
    """A revision of the quote with what it prints of office and customer; NotFound where there is none."""
    quote = as_accepted(session, get_quote(session, quote_id, revision))
    printed = imprint(session, quote.id, quote.revision, quote.customer_id)
    made_at = quote.issued_at or quote.created_at
    made_on = local_day(made_at, printed.time_zone)
    return Gathered(printed, quote, made_on)
