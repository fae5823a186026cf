"""A customer's right to be forgotten: the person goes, the figures stay."""

from __future__ import annotations

from uuid import UUID

from sqlalchemy.orm import Session

from service.quoting.catalogue import CUSTOMERS, Versions, at_version, fresh
from service.store import customers as store
from service.store.models import Customer


def erase(session: Session, customer_id: UUID, expected: Versions) -> Customer:
    """Erase the personal data of a customer for good; their quotes keep rooms, figures and number.

    Erasing again changes nothing more. NotFound, Stale.
    """
    version = at_version(session, CUSTOMERS, customer_id, expected)
    return fresh(store.erase(session, customer_id, version))
