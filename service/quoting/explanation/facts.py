"""What a quote's figures are explained from: its snapshot and the price rows that it bought at."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Literal
from uuid import UUID

from sqlalchemy.orm import Session

from service.pricing.buying import Basket
from service.pricing.model import Line, Terms, Totals
from service.pricing.money import minor_unit
from service.quoting.explanation.node import Step
from service.quoting.quotes import StoredQuote
from service.quoting.quotes.accepted import as_accepted
from service.quoting.quotes.part import Taken, taken_lines
from service.quoting.recompute import values_of
from service.quoting.snapshot import from_json
from service.store.price_rows import PriceRow, price_rows
from service.takeoff.answer import Takeoff
from service.takeoff.rates import LabourTable
from service.trade.values import TradeValues


@dataclass(frozen=True)
class Part:
    """Rooms of an offer that were accepted alone: their own facts, and the lines as they were taken."""

    facts: Facts
    taken: Sequence[Taken]


@dataclass(frozen=True)
class Option:
    """The option that was accepted in place of the offer, by its place among the quote's."""

    facts: Facts
    place: int


@dataclass(frozen=True)
class Facts:
    takeoff: Takeoff
    lines: Sequence[Line]
    totals: Totals | None
    terms: Terms
    labour: LabourTable
    values: TradeValues
    rows: Mapping[str, Sequence[PriceRow]]  # by price list
    currency: str
    price_date: str
    basket: Basket | None = None
    us_units: bool = False
    accepted: Part | Option | Literal["whole"] | None = None

    @property
    def minor(self) -> Step:
        """Whole minor units, by the rule of the terms."""
        rounding = self.terms.rounding
        return Step(minor_unit(rounding), rounding.method)

    @property
    def by_line(self) -> bool:
        return self.terms.rounding.per == "line"

    @property
    def terms_source(self) -> str:
        return f"terms {self.terms.name}"

    @property
    def labour_source(self) -> str:
        return f"labour table {self.labour.name}"

    @property
    def priced_lines(self) -> list[int]:
        """Places of the lines that are no adjustments of the sum."""
        return [place for place, line in enumerate(self.lines) if line.kind != "adjustment"]

    def row_of(self, line: Line) -> PriceRow | None:
        """The price row that a line was bought at; None for what is on no list."""
        rows = [
            row
            for row in self.rows.get(line.price_list or "", ())
            if (row.product, row.pack_size) == (line.product, line.pack_size)
            and row.min_packs <= (line.packs or 0)
        ]
        return max(rows, key=lambda row: row.min_packs, default=None)


def facts_of(session: Session, quote: StoredQuote) -> Facts:
    """A floor that is refused has figures of its take-off only."""
    facts = _offered(session, quote)
    return facts if quote.acceptance is None else replace(facts, accepted=_accepted(session, quote))


def _accepted(session: Session, quote: StoredQuote) -> Part | Option | Literal["whole"]:
    """What was accepted of the quote."""
    built = as_accepted(session, quote)
    if built is quote or quote.priced is None:
        return "whole"
    for name in (quote.acceptance or {}).get("options", ()):
        place = next(place for place, option in enumerate(quote.options) if option.name == name)
        return Option(_offered(session, built), place)
    taken = taken_lines(quote.takeoff, built.takeoff, quote.priced)
    return Part(_offered(session, built), taken)


def _offered(session: Session, quote: StoredQuote) -> Facts:
    lines = quote.priced.lines if quote.priced else ()
    lists = {UUID(line.price_list) for line in lines if line.price_list is not None}
    products = {UUID(line.product) for line in lines if line.product is not None}
    return Facts(
        takeoff=quote.takeoff,
        lines=lines,
        totals=quote.priced.totals if quote.priced else None,
        terms=from_json(quote.basis["terms"], Terms),
        labour=from_json(quote.basis["labour_table"], LabourTable),
        values=values_of(quote.takeoff, quote.basis),
        rows=price_rows(session, lists, products),
        currency=quote.currency,
        price_date=quote.price_date.isoformat(),
        basket=quote.priced.basket if quote.priced else None,
        us_units=quote.body.get("display_units") == "us",
    )


def decimal(value: float) -> Decimal:
    """A computed quantity with all its digits."""
    return Decimal(repr(value))
