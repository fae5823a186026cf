"""Customers' personal data: where they lie, and how they are erased."""

from __future__ import annotations

from uuid import UUID

from sqlalchemy import func, or_, text, update
from sqlalchemy.orm import Session

from service.store import imprints, rows
from service.store.models import Customer, QuoteEvent
from service.store.session import org_of

ERASED_NAME = "Erased"

PURGE = text("""
DELETE FROM idempotency_keys AS kept
WHERE org_id = :org_id AND EXISTS (
    SELECT FROM (
        SELECT CAST(:id AS uuid) UNION ALL
        SELECT quote_id FROM quote_revisions WHERE org_id = :org_id AND customer_id = :id
    ) AS named (id)
    WHERE position(convert_to(named.id::text, 'UTF8') IN kept.body) > 0
)
""")


SAID = ("by", "reference", "note")
"""What an event tells in people's own words."""


def erase(session: Session, customer_id: UUID, version: int | None) -> Customer | None:
    """Replace all that tells who the customer is; None where the row is not at `version` any more.

    Stored answers of requests that tell of them or of their quotes go too, and what was said when their
    quotes were accepted, declined or withdrawn: who said it, their reference, the reason; and their name,
    address and tax number in what issued documents print.
    """
    erased = rows.change(
        session,
        Customer,
        customer_id,
        version,
        name=ERASED_NAME,
        email=None,
        phone=None,
        address={},
        note="",
        tax_number=None,
        erased_at=func.now(),
    )
    if erased is not None:
        session.execute(PURGE, {"org_id": org_of(session), "id": customer_id})
        _silence(session, customer_id)
        imprints.blot(session, customer_id)
    return erased


def _silence(session: Session, customer_id: UUID) -> None:
    """The database lets these members be emptied for an erased customer, and nothing else be changed."""
    said = or_(*(getattr(QuoteEvent, name).is_not(None) for name in SAID))
    session.execute(
        update(QuoteEvent)
        .where(QuoteEvent.org_id == org_of(session), said, imprints.of_customer(QuoteEvent, customer_id))
        .values(dict.fromkeys(SAID))
        .execution_options(synchronize_session=False)
    )
