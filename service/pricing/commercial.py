"""What prices are reckoned by: exchange, terms and totals. Money is Decimal, in the quote's currency."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Literal

from service.pricing.buying import Buying


@dataclass(frozen=True, slots=True)
class Exchange:
    """The dated rate that prices of another currency came by: one unit of `currency` in the book's own."""

    id: str
    currency: str
    rate: Decimal
    valid_from: date


@dataclass(frozen=True, slots=True)
class Uplift:
    """Markup (percent of cost) or margin (percent of the selling price) of one role group."""

    method: Literal["markup", "margin"]
    percent: Decimal


@dataclass(frozen=True, slots=True)
class TaxRule:
    """A tax on the net of materials (with delivery), of labour, or of all.

    Under `reverse_charge` a business customer accounts for it and is charged none.
    """

    name: str
    percent: Decimal
    base: Literal["materials", "labour", "all"] = "all"
    reverse_charge: bool = False


@dataclass(frozen=True, slots=True)
class Stage:
    name: str
    percent: Decimal  # of gross


@dataclass(frozen=True, slots=True)
class Allowance:
    """A stated price for a role whose product is not chosen yet."""

    role: str
    unit: str
    price: Decimal


@dataclass(frozen=True, slots=True)
class DayWork:
    """What the customer pays for an hour beyond what was quoted, net of tax."""

    name: str
    hourly_price: Decimal


@dataclass(frozen=True, slots=True)
class Extra:
    """Hours beyond those of the take-off, at a rate for day work."""

    what: str
    rate: DayWork
    hours: Decimal


@dataclass(frozen=True, slots=True)
class Rounding:
    """`minor` decimals of the currency; a `total_step` above one minor unit rounds net by one line.

    Net and not gross, since gross = net + tax has no solution in whole minor units for every gross.
    `per` total: percentages are taken of sums, and shared out to the lines; `per` line: of each line, and
    the sums follow.
    """

    method: Literal["half_up", "half_even"] = "half_up"
    minor: int = 2
    total_step: Decimal | None = None
    per: Literal["total", "line"] = "total"


@dataclass(frozen=True, slots=True)
class Terms:
    """An organisation's commercial terms of one version."""

    id: str
    name: str
    contingency_percent: Decimal = Decimal(0)
    uplifts: Mapping[str, Uplift] = field(default_factory=dict)  # by role group, "default" for the rest
    hourly_charge: Decimal | None = None  # what an hour is charged at, in place of cost with uplift
    discount_percent: Decimal = Decimal(0)
    minimum_charge: Decimal | None = None  # net is raised to it
    taxes: tuple[TaxRule, ...] = ()
    tax_region: str | None = None  # whose taxes in force on the tax date then stand in `taxes`
    buyer: Literal["consumer", "business"] | None = None  # None: what the customer is
    deposit_percent: Decimal = Decimal(0)
    stages: tuple[Stage, ...] = ()
    retention_percent: Decimal = Decimal(0)
    valid_days: int = 30
    allowances: tuple[Allowance, ...] = ()
    rounding: Rounding = Rounding()
    buying: Buying = field(default_factory=Buying)
    day_work: tuple[DayWork, ...] = ()  # for hours beyond those of the take-off

    def reverses(self, rule: TaxRule) -> bool:
        """Whether the buyer accounts for this tax in the seller's place."""
        return rule.reverse_charge and self.buyer == "business"

    def hourly_price(self, name: str) -> Decimal:
        """The rate for day work of this name; KeyError where the terms have none."""
        return {rate.name: rate.hourly_price for rate in self.day_work}[name]


@dataclass(frozen=True, slots=True)
class TaxLine:
    """A tax and its base; under reverse charge its rate and amount are 0."""

    name: str
    percent: Decimal
    base: Decimal
    amount: Decimal
    reverse_charge: bool = False


@dataclass(frozen=True, slots=True)
class Payment:
    name: str
    amount: Decimal


@dataclass(frozen=True, slots=True)
class Totals:
    """Each the exact sum of its parts.

    materials + delivery + labour + contingency + markup - discount + minimum_charge + rounding = net;
    net + tax = gross. `minimum_charge` is by how much net was raised to the least that the office charges.
    """

    materials: Decimal
    delivery: Decimal
    labour: Decimal
    contingency: Decimal
    markup: Decimal
    discount: Decimal
    rounding: Decimal
    net: Decimal
    tax: Decimal
    taxes: tuple[TaxLine, ...]
    gross: Decimal
    deposit: Decimal
    stages: tuple[Payment, ...]
    retention: Decimal
    minimum_charge: Decimal = Decimal(0)
