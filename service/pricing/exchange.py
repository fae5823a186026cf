"""Prices of another currency in the office's own, at a dated rate, by one rule."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from service.pricing.model import Exchange, Line, Rounding
from service.pricing.money import to_minor

UNIT_PRICE = Rounding("half_up", 4)
"""A converted price is exact to four decimals, half away from zero, as PostgreSQL's round() does it."""


@dataclass(frozen=True, slots=True)
class ExchangeRates:
    """The rates into one currency that hold on one day, by the currency that they come from."""

    currency: str
    day: date
    by_currency: Mapping[str, Exchange]

    def of(self, currency: str) -> Exchange | None:
        """The rate for another currency; None where the office holds none: it is never taken to be 1."""
        return self.by_currency.get(currency)


def converted(price: Decimal, rate: Decimal | None) -> Decimal:
    """A price or a charge at a rate, None standing for the office's own currency."""
    return price if rate is None else to_minor(price * rate, UNIT_PRICE)


def with_rates(lines: tuple[Line, ...], used: Mapping[str, Exchange]) -> tuple[Line, ...]:
    """The lines bought in another currency with the rate, by supplier, that their cost came by."""
    return tuple(replace(line, exchange=used.get(line.supplier or "")) for line in lines)
