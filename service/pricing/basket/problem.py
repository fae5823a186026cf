"""What is to be decided, in whole numbers only: one option for each lot, at the least that all comes to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple


class Part(NamedTuple):
    """What an option buys from one seller, in minor units: its cost with freight, and the goods alone."""

    seller: int
    cost: int
    goods: int


class Option(NamedTuple):
    """One way to buy a lot, by its number among them; `system` where it is of one."""

    number: int
    parts: tuple[Part, ...]
    system: int | None = None

    @property
    def cost(self) -> int:
        return sum(part.cost for part in self.parts)

    @property
    def sellers(self) -> int:
        """As a mask."""
        return sum(1 << seller for seller in {part.seller for part in self.parts})


class Seller(NamedTuple):
    """What an order costs beside the goods and their freight, in minor units; the weight judges its cost."""

    delivery: int = 0
    free_over: int | None = None
    carry_in: int = 0
    minimum: int = 0
    weight: int = 1

    def charge(self, goods: int) -> int:
        free = self.free_over is not None and goods >= self.free_over
        return self.carry_in + (0 if free else self.delivery)

    @property
    def limited(self) -> bool:
        """Whether it matters how much is bought."""
        return self.minimum > 0 or (self.delivery > 0 and self.free_over is not None and self.free_over > 0)


class Problem(NamedTuple):
    """Options of each lot, the best first; `most` sellers, where they are limited."""

    lots: tuple[tuple[Option, ...], ...]
    sellers: tuple[Seller, ...]
    most: int | None = None

    def judged(self, option: Option) -> int:
        return sum(part.cost * self.sellers[part.seller].weight for part in option.parts)

    @property
    def systems(self) -> tuple[int | None, ...]:
        """The systems of which every lot that asks for one has an option."""
        per_lot = [{option.system for option in lot} for lot in self.lots]
        named = [systems for systems in per_lot if None not in systems]
        return tuple(sorted(set.intersection(*named))) if named else (None,)  # type: ignore[type-var]


@dataclass(frozen=True, slots=True)
class Bill:
    """What a choice comes to: judged, and in minor units."""

    judged: int
    cost: int
    goods: tuple[int, ...]
    """By seller; zero where nothing is bought."""


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a choice may not be made."""

    reason: Literal["one_system", "supplier_limit", "minimum_order"]


def bill(problem: Problem, choice: Sequence[Option]) -> Bill | Refusal:
    """Add a choice up, exactly, or say which limit it breaks."""
    goods = [0] * len(problem.sellers)
    cost = [0] * len(problem.sellers)
    used = 0
    for option in choice:
        for seller, paid, value in option.parts:
            goods[seller] += value
            cost[seller] += paid
            used |= 1 << seller
    if len({option.system for option in choice if option.system is not None}) > 1:
        return Refusal("one_system")
    if problem.most is not None and used.bit_count() > problem.most:
        return Refusal("supplier_limit")
    for number, seller_ in enumerate(problem.sellers):
        if used >> number & 1:
            if goods[number] < seller_.minimum:
                return Refusal("minimum_order")
            cost[number] += seller_.charge(goods[number])
    judged = sum(paid * s.weight for paid, s in zip(cost, problem.sellers, strict=True))
    return Bill(judged, sum(cost), tuple(goods))
