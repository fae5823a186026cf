"""The office's exchange rates: what held on a day."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Select
from sqlalchemy.orm import Session

from service.pricing.model import Exchange
from service.store import rows
from service.store.models import ExchangeRate


@dataclass(frozen=True, slots=True)
class Rates:
    """The rates into one currency that hold on one day, by the currency that they come from."""

    currency: str
    by_currency: Mapping[str, Exchange]

    def reach(self, currency: str) -> bool:
        """Whether prices of this currency can be told in the one: its own, or one with a rate."""
        return currency == self.currency or currency in self.by_currency

    def beyond(self, currencies: Iterable[str]) -> tuple[str, ...]:
        """Those that no rate is held for, by name."""
        return tuple(sorted({currency for currency in currencies if not self.reach(currency)}))

    def of(self, currencies: Mapping[str, str]) -> dict[str, Exchange]:
        """The rates of those, by any name, whose currency has one."""
        return {
            name: self.by_currency[currency]
            for name, currency in currencies.items()
            if currency in self.by_currency
        }


def in_force(session: Session, on: date) -> Sequence[ExchangeRate]:
    """The rate of each pair of currencies on a day: the latest from-date, of several rows the newest."""
    return session.scalars(_in_force(session, on)).all()


def rates_into(session: Session, currency: str, on: date) -> Rates:
    """The rates into a currency that hold on a day."""
    found = session.scalars(_in_force(session, on).where(ExchangeRate.to_currency == currency))
    return Rates(currency, {row.from_currency: exchange_of(row) for row in found})


def exchange_of(row: ExchangeRate) -> Exchange:
    return Exchange(str(row.id), row.from_currency, row.rate, row.valid_from)


def _in_force(session: Session, on: date) -> Select[Any]:
    return rows.in_force(session, ExchangeRate, on, ExchangeRate.from_currency, ExchangeRate.to_currency)
