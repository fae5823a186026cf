"""What a document is made of: who writes, to whom, what is offered, and how it is to look."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any, Literal

from service.pricing.model import Priced
from service.takeoff.answer import Takeoff

Language = Literal["de", "en", "es", "fr"]
Paper = Literal["a4", "letter"]
Detail = Literal["lump_sum", "by_room", "by_line"]


@dataclass(frozen=True, slots=True)
class Address:
    lines: tuple[str, ...] = ()
    postcode: str = ""
    city: str = ""
    region: str = ""
    country: str = ""  # ISO 3166-1, two letters

    @classmethod
    def of(cls, said: Mapping[str, Any]) -> Address:
        """From the stored form, in which anything may be missing."""
        text = {name: str(said.get(name) or "") for name in ("postcode", "city", "region", "country")}
        return cls(tuple(said.get("lines") or ()), **text)


@dataclass(frozen=True, slots=True)
class Sender:
    """The office with its letterhead; texts are its own and are printed as they are."""

    name: str
    address: Address = Address()
    contact_name: str = ""
    phone: str = ""
    email: str = ""
    website: str = ""
    tax_number: str = ""
    bank_details: tuple[str, ...] = ()
    payment_terms: str = ""
    terms_text: str = ""
    consumer_text: str = ""
    business_text: str = ""


@dataclass(frozen=True, slots=True)
class Recipient:
    """The customer; `erased` where the personal data were deleted on request."""

    name: str = ""
    address: Address = Address()
    kind: Literal["consumer", "business"] = "consumer"
    tax_number: str = ""
    erased: bool = False


@dataclass(frozen=True, slots=True)
class Alternative:
    """An option in place of the whole offer; `priced` is None where it must not be built so."""

    name: str
    note: str
    takeoff: Takeoff
    priced: Priced | None

    @property
    def gross(self) -> Decimal | None:
        return _gross(self.priced)


@dataclass(frozen=True, slots=True)
class Offer:
    """One revision of a quote; `priced` is None for a floor that must not be built so.

    Where an option or some of the rooms were accepted, it is all about these: `taken` is the option's name,
    `taken_rooms` are the rooms'.
    """

    number: str
    revision: int
    state: str
    made_on: date
    valid_until: date
    currency: str
    takeoff: Takeoff
    priced: Priced | None
    us_units: bool = False
    options: tuple[Alternative, ...] = ()
    taken: str = ""
    taken_rooms: tuple[str, ...] = ()

    @property
    def gross(self) -> Decimal | None:
        return _gross(self.priced)


def _gross(priced: Priced | None) -> Decimal | None:
    return priced.totals.gross if priced and priced.totals else None


@dataclass(frozen=True, slots=True)
class Style:
    language: Language = "en"
    paper: Paper = "a4"
    detail: Detail = "by_room"
