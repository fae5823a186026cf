"""What pricing takes and gives, as plain data. Money is Decimal, quantities are in the role's own unit."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from service.cutting.runs import CutLengths
from service.pricing.buying import Basket, Why
from service.pricing.commercial import (
    Allowance,
    DayWork,
    Exchange,
    Extra,
    Payment,
    Rounding,
    Stage,
    TaxLine,
    TaxRule,
    Terms,
    Totals,
    Uplift,
)
from service.pricing.on_sale import Attribute, Offer, PriceBook, PriceBreak, Product, Supplier

LineKind = Literal["material", "labour", "delivery", "adjustment"]
Lacking = Literal["no_supplier", "no_fit", "no_system", "unknown_product", "no_allowance"]
"""Why nothing on sale serves a need."""

__all__ = [
    "Allowance",
    "Attribute",
    "Condition",
    "Cutting",
    "DayWork",
    "Exchange",
    "Extra",
    "Gap",
    "Hours",
    "Line",
    "LineKind",
    "Need",
    "Notice",
    "Offer",
    "Payment",
    "PriceBook",
    "PriceBreak",
    "Priced",
    "Product",
    "Rounding",
    "Stage",
    "Supplier",
    "TaxLine",
    "TaxRule",
    "Terms",
    "Totals",
    "Uplift",
]


@dataclass(frozen=True, slots=True)
class Condition:
    """What a product must state, or may leave unsaid: one of some words, or a number within limits."""

    attribute: str
    one_of: tuple[str, ...] = ()
    at_least: float | None = None
    at_most: float | None = None
    if_stated: bool = False


@dataclass(frozen=True, slots=True)
class Need:
    """A quantity to buy. `product` is the office's choice where it made one."""

    role: str
    unit: str
    quantity: Decimal
    conditions: tuple[Condition, ...] = ()
    product: str | None = None
    one_system: bool = False
    rooms: tuple[str, ...] = ()
    area_m2: Decimal | None = None  # of tile counted in pieces, for an allowance per m2
    lengths: CutLengths | None = None  # of what is cut from sticks or rolls, which its packs then are
    places: tuple[int, ...] = ()  # of what it adds up, in the caller's list
    limits: tuple[Decimal, ...] = ()  # the parts of it that must be filled up and never exceeded


@dataclass(frozen=True, slots=True)
class Hours:
    """Work to pay for: hours of one activity."""

    activity: str
    driver: str
    hours: Decimal


@dataclass(frozen=True, slots=True)
class Cutting:
    """How all packs of one product were found, by cutting pieces from them.

    Their cost; the cost that no choice of the supplier's packs for these pieces goes below; the gap between
    (0: proven cheapest); the search's last step; and the joints in runs longer than the longest pack.
    """

    cost: Decimal
    bound: Decimal
    gap: Decimal
    method: str
    joints: int


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a quote.

    `cost` is that of a pack (or hour, or unit of an allowance), `amount` is at cost, `price` is what the
    customer pays for the line before discount: amount with its share of contingency and its uplift.
    Discount and rounding are lines of kind adjustment with amount 0, so that the prices of all lines add up
    to net, and those of the others to cost + contingency + markup.
    """

    kind: LineKind
    role: str
    description: str
    group: str
    unit: str
    quantity: Decimal
    supplier: str | None
    product: str | None
    packs: int | None
    pack_size: Decimal | None
    cost: Decimal
    price: Decimal
    amount: Decimal
    price_list: str | None = None
    allowance: bool = False
    note: str = ""
    supplier_name: str | None = None
    rooms: tuple[str, ...] = ()
    cutting: Cutting | None = None  # where the packs are sticks or rolls
    needs: tuple[int, ...] = ()  # places of the needs that it serves, alone or with the product's other lines
    exchange: Exchange | None = None  # where the supplier sells in another currency


@dataclass(frozen=True, slots=True)
class Notice:
    """What the office should know of a quote's prices; the customer is not told."""

    rule: str
    message: str


@dataclass(frozen=True, slots=True)
class Gap:
    """Why a need could not be bought: the role, what was looked for, and the request's field at fault."""

    role: str
    reason: Lacking | Why
    message: str
    field: str | None = None


@dataclass(frozen=True, slots=True)
class Priced:
    """Lines and totals, or the gaps that stand in the way; the basket where anything was bought."""

    currency: str
    lines: tuple[Line, ...]
    totals: Totals | None
    gaps: tuple[Gap, ...] = ()
    notices: tuple[Notice, ...] = ()
    basket: Basket | None = None
