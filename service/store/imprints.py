"""What issued documents print of office and customer: a trigger keeps it, an erasure reaches it."""

from __future__ import annotations

from uuid import UUID

from sqlalchemy import ColumnElement, Text, cast, select, update
from sqlalchemy.dialects.postgresql import ARRAY
from sqlalchemy.orm import Session

from service.store.models import QuoteEvent, QuoteImprint, QuoteRevision
from service.store.session import org_of

WHO = ("name", "address", "tax_number")
"""What tells who the customer is; their kind and language stay, since texts follow from them."""


def find(session: Session, quote_id: UUID, revision: int) -> QuoteImprint | None:
    """What was kept as the revision was issued; None where it never was."""
    return session.get(QuoteImprint, (org_of(session), quote_id, revision))


def of_customer(model: type[QuoteImprint] | type[QuoteEvent], customer_id: UUID) -> ColumnElement[bool]:
    """Whether a row's revision is for this customer."""
    theirs = select(QuoteRevision.quote_id).where(
        QuoteRevision.org_id == model.org_id,
        QuoteRevision.quote_id == model.quote_id,
        QuoteRevision.revision == model.revision,
        QuoteRevision.customer_id == customer_id,
    )
    return theirs.exists()


def blot(session: Session, customer_id: UUID) -> None:
    """Take out who the customer is, which the database allows once they are erased."""
    named = QuoteImprint.customer.has_key("name")
    session.execute(
        update(QuoteImprint)
        .where(QuoteImprint.org_id == org_of(session), named, of_customer(QuoteImprint, customer_id))
        .values(customer=QuoteImprint.customer.op("-")(cast(list(WHO), ARRAY(Text()))))
        .execution_options(synchronize_session=False)
    )
