"""How an office buys, and what a basket over all suppliers came to. Money is in the book's currency."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

Mode = Literal["cheapest", "preferred_only"]
Why = Literal[
    "lead_time",
    "region",
    "preferred_supplier",
    "one_system",
    "supplier_limit",
    "minimum_order",
    "delivery_saved",
    "not_searched",
]
"""Why something that costs less was not taken."""


@dataclass(frozen=True, slots=True)
class Buying:
    """What an office asks of its baskets.

    A preferred supplier is taken while that makes the whole no more than `tolerated_extra_percent` dearer:
    whatever others sell and deliver is judged as if it cost so much more. `preferred_only` buys from nobody
    else. `region` is where the goods go: suppliers who state another one do not deliver there.
    """

    mode: Mode = "cheapest"
    preferred: tuple[str, ...] = ()
    tolerated_extra_percent: Decimal = Decimal(0)
    max_suppliers: int | None = None
    region: str | None = None

    def reached_by(self, region: str | None) -> bool:
        """Whether a supplier who delivers in `region`, None for anywhere, delivers where the goods go."""
        return None in (region, self.region) or region == self.region


@dataclass(frozen=True, slots=True)
class Order:
    """What is bought from one supplier: goods, and all that is paid to have them delivered."""

    supplier: str
    supplier_name: str
    goods: Decimal
    delivery: Decimal


@dataclass(frozen=True, slots=True)
class Source:
    """A product from a supplier."""

    product: str
    product_name: str
    supplier: str
    supplier_name: str


@dataclass(frozen=True, slots=True)
class Dearer:
    """What could be had for less, each reason one why something cheaper was passed over.

    The costs are those of the goods with their freight and surcharges.
    """

    role: str
    taken: tuple[Source, ...]
    cost: Decimal
    cheapest: tuple[Source, ...]
    cheapest_cost: Decimal
    extra: Decimal
    reasons: tuple[Why, ...]


@dataclass(frozen=True, slots=True)
class Change:
    """What another basket would buy for a role instead."""

    role: str
    instead: tuple[Source, ...]


@dataclass(frozen=True, slots=True)
class SecondBest:
    """The best basket with other products or suppliers; `proven` where none stands between."""

    cost: Decimal
    extra: Decimal
    proven: bool
    changes: tuple[Change, ...]


@dataclass(frozen=True, slots=True)
class Excluded:
    """A supplier who sells what is needed and was not asked."""

    supplier: str
    supplier_name: str
    reason: Why


@dataclass(frozen=True, slots=True)
class Basket:
    """All that is bought: goods and what is paid for their delivery.

    `judged` is the cost with the tolerated extra on what others than preferred suppliers are paid; no basket
    is judged at less than `bound`, and `gap` is between the two: 0 where the basket is proven.
    `method` is what decided: `bound` a comparison of bounds, `enumeration` all choices that bounds leave,
    `model` the assignment model, `model_limit` the model up to its node limit. `left_out` says in words what
    was not weighed.
    """

    cost: Decimal
    judged: Decimal
    bound: Decimal
    gap: Decimal
    method: str
    orders: tuple[Order, ...]
    dearer: tuple[Dearer, ...] = ()
    second_best: SecondBest | None = None
    excluded: tuple[Excluded, ...] = ()
    left_out: tuple[str, ...] = ()
