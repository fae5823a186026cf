"""What several take-offs cost, with one price book and each basket found once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Any

from sqlalchemy.orm import Session

from service.pricing.lines import DAY_WORK
from service.pricing.model import Line, Priced, Terms
from service.pricing.totals import total
from service.quoting.basis import Basis
from service.quoting.books import Books
from service.quoting.priced import price_takeoff
from service.quoting.snapshot import fingerprint
from service.takeoff.answer import LabourLine, Material, Takeoff

Basket = tuple[tuple[Material, ...], tuple[LabourLine, ...], str]
"""What is needed, and a fingerprint of the terms as far as they bear on what is bought."""

PUT_ON: Mapping[str, Any] = {
    "id": "",
    "name": "",
    "contingency_percent": Decimal(0),
    "uplifts": {},
    "hourly_charge": None,
    "discount_percent": Decimal(0),
    "minimum_charge": None,
    "taxes": (),
    "tax_region": None,
    "buyer": "consumer",
    "deposit_percent": Decimal(0),
    "stages": (),
    "retention_percent": Decimal(0),
    "valid_days": 0,
}
"""The part of terms that is put on what is bought, and so does not change it, left empty."""


class Shop:
    """Prices take-offs of one request."""

    def __init__(self, session: Session, takeoffs: Iterable[Takeoff]) -> None:
        self._session = session
        self._books = Books(takeoffs)
        self._known: dict[Basket, Priced] = {}

    def price(self, takeoff: Takeoff, basis: Basis) -> tuple[Takeoff, Priced | None]:
        """As for a quote; what is bought already is only put on other terms. Unpriceable as there."""
        buying = bearing(basis.terms)
        basket = takeoff.materials, takeoff.labour, buying
        if basket in self._known and not takeoff.refused:
            return takeoff, on_terms(self._known[basket], basis.terms)
        found, priced = price_takeoff(self._session, takeoff, basis, self._books.book, self._books.market)
        if priced is not None:
            self._known[basket] = priced
        return found, priced


def bearing(terms: Terms) -> str:
    """A fingerprint of terms as far as they bear on what is bought."""
    return fingerprint(replace(terms, **PUT_ON))


def on_terms(priced: Priced, terms: Terms) -> Priced:
    """The same goods and hours at cost, with the contingency, uplift, discount and taxes of other terms."""
    at_cost = [_at_cost(line) for line in priced.lines if line.kind != "adjustment"]
    lines, totals = total(at_cost, terms)
    return replace(priced, lines=lines, totals=totals)


def _at_cost(line: Line) -> Line:
    """What terms told of the hours is told anew; of day work the note is the name of its rate."""
    told_anew = line.kind == "labour" and line.group != DAY_WORK
    return replace(line, price=line.amount, note="" if told_anew else line.note)
