"""Exchange rates: dated rows that the office keeps; a correction is a newer row."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from sqlalchemy.orm import Session

from service.quoting import catalogue
from service.quoting.catalogue import Kind
from service.store import exchange_rates as store
from service.store.models import ExchangeRate

EXCHANGE_RATES = Kind("exchange rate", ExchangeRate)


def add_rate(session: Session, values: Mapping[str, Any]) -> ExchangeRate:
    """A rate from its day on, in the place of an older row of the same pair and day."""
    return catalogue.add(session, EXCHANGE_RATES, values)


def rates_on(session: Session, on: date) -> Sequence[ExchangeRate]:
    """The rate of each pair that holds on a day."""
    return store.in_force(session, on)
