"""The labour table a take-off works with: plain data, read from the database by the caller."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property

from service.takeoff.answer import Driver


@dataclass(frozen=True)
class LabourRate:
    """Crew-member hours per unit of one activity."""

    activity: str
    driver: Driver
    unit: str
    hours: float


@dataclass(frozen=True)
class LabourTable:
    """One dated set of rates of a crew of the organisation, with its price of an hour.

    `crew` is its size, `crew_name` None for the usual one. `hourly_charge` is what the customer pays for an
    hour; None: its cost with the uplift of the terms.
    """

    id: str
    name: str
    rates: tuple[LabourRate, ...]
    crew: int
    productive_hours_per_day: float
    minimum_hours: float
    hourly_cost: Decimal
    currency: str
    crew_name: str | None = None
    hourly_charge: Decimal | None = None

    @cached_property
    def by_activity(self) -> Mapping[str, LabourRate]:
        return {rate.activity: rate for rate in self.rates}
