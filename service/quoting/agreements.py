"""What suppliers grant the office: written once, then only ended."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from service.quoting import catalogue, office
from service.quoting.catalogue import Kind, UnknownReference, Versions
from service.store import rows
from service.store.models import Agreement, ProductRow, Supplier

AGREEMENTS = Kind("agreement", Agreement)


def add(session: Session, values: Mapping[str, Any]) -> Agreement:
    """A new agreement; UnknownReference where its supplier or product does not exist."""
    if rows.find(session, Supplier, values["supplier_id"]) is None:
        raise UnknownReference("/supplier_id")
    product = values["product_id"]
    if product is not None and rows.find(session, ProductRow, product) is None:
        raise UnknownReference("/product_id")
    return catalogue.add(session, AGREEMENTS, values)


def end(session: Session, row_id: UUID, expected: Versions, last_day: date, now: datetime) -> Agreement:
    """Let it hold until `last_day`, which is not over yet: what held in the past stays as it was.

    Its end only comes nearer; UnknownReference otherwise.
    """
    row = catalogue.get(session, AGREEMENTS, row_id)
    if last_day < max(office.today(session, now), row.valid_from):
        raise UnknownReference("/valid_until", "Over already, or before it begins.")
    if row.valid_until is not None and last_day > row.valid_until:
        raise UnknownReference("/valid_until", f"Ends on {row.valid_until.isoformat()}; write another one.")
    return catalogue.replace(session, AGREEMENTS, row_id, expected, {"valid_until": last_day})
