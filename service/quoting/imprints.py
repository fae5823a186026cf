"""What a document prints of office and customer: as kept when it was issued, of a draft today's."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from service.quoting import office
from service.store import imprints as store
from service.store import rows
from service.store.models import Customer, QuoteImprint


@dataclass(frozen=True, slots=True)
class Addressee:
    """The customer; without name and address where the personal data were `erased`."""

    kind: str
    locale: str | None
    name: str
    address: Mapping[str, Any]
    tax_number: str | None
    erased: bool


@dataclass(frozen=True, slots=True)
class Imprint:
    """Who writes, in which time zone and with which letterhead, and to whom (None: to nobody yet)."""

    name: str
    time_zone: str
    letterhead: Mapping[str, Any]
    customer: Addressee | None

    @property
    def texts(self) -> dict[str, Any]:
        """What it says, without who the customer is."""
        customer = self.customer
        of_customer = {"kind": customer.kind, "locale": customer.locale} if customer else None
        return {"office": self.name, "letterhead": self.letterhead, "customer": of_customer}


def imprint(session: Session, quote_id: UUID, revision: int, customer_id: UUID | None) -> Imprint:
    """Of a revision that was issued what was kept then, of any other what stands today."""
    kept = store.find(session, quote_id, revision)
    return _today(session, customer_id) if kept is None else _kept(kept)


def _kept(row: QuoteImprint) -> Imprint:
    said = row.customer
    customer = None if said is None else _addressee(said, erased="name" not in said)
    return Imprint(row.office["name"], row.office["time_zone"], row.office["letterhead"], customer)


def _today(session: Session, customer_id: UUID | None) -> Imprint:
    organisation = office.organisation(session)
    found = rows.find(session, Customer, customer_id) if customer_id else None
    customer = None
    if found is not None:
        said = {name: getattr(found, name) for name in ("kind", "locale", "name", "address", "tax_number")}
        customer = _addressee(said, erased=found.erased_at is not None)
    return Imprint(organisation.name, organisation.time_zone, organisation.letterhead, customer)


def _addressee(said: Mapping[str, Any], erased: bool) -> Addressee:
    return Addressee(
        kind=said["kind"],
        locale=said["locale"],
        name=said.get("name", ""),
        address=said.get("address", {}),
        tax_number=said.get("tax_number"),
        erased=erased,
    )
