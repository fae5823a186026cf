"""A customer's right to be forgotten: the person goes, the figures stay."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from service.quoting import catalogue
from service.quoting.catalogue import CUSTOMERS, Kind, Versions, at_version, fresh
from service.quoting.errors import Conflict
from service.store import customers as store
from service.store.models import Customer


def replace(
    session: Session, kind: Kind[Customer], row_id: UUID, expected: Versions, values: Mapping[str, Any]
) -> Customer:
    """The customer with these values; Conflict for one whose data were erased."""
    at_version(session, kind, row_id, expected)
    if catalogue.get(session, kind, row_id).erased_at is not None:
        raise Conflict("the customer's personal data were erased; add a new customer")
    return catalogue.replace(session, kind, row_id, expected, values)


def erase(session: Session, customer_id: UUID, expected: Versions) -> Customer:
    """Erase the personal data of a customer for good; their quotes keep rooms, figures and number.

    Erasing again changes nothing more. NotFound, Stale.
    """
    version = at_version(session, CUSTOMERS, customer_id, expected)
    return fresh(store.erase(session, customer_id, version))
