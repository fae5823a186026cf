"""Strips of given length and width from rolls of one width, at the least cost: the door to `sections`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import floor, inf

from service.cutting.area_bound import area_bound
from service.cutting.effort import Effort
from service.cutting.problem import Problem
from service.cutting.sections import Roll, Sections, Strip, every_way, length_of, packings
from service.cutting.steps import STEPS_PER_COST, STEPS_PER_MM, down, up, whole_costs
from service.cutting.stock import NODE_LIMIT, CannotCut, CuttingPlan, Demand, Stock, cut

MOST_WAYS = 40
"""Ways to rip the strips whose sections are cut from rolls to compare them."""


@dataclass(frozen=True)
class RollPlan:
    """Sections cut from rolls, and the strips ripped from each; the plan's bound holds for all ways."""

    plan: CuttingPlan
    sections: Sections

    @property
    def length(self) -> float:
        """All sections together [mm]."""
        return sum(map(length_of, self.sections)) / STEPS_PER_MM


def rip(strips: Sequence[tuple[float, float, int]], width: float, longest: float) -> Sections:
    """A good way to rip strips [length, width in mm and their number], found at once."""
    roll = Roll(up(width), up(longest))
    alone, narrow = roll.alone(_whole(strips, roll))
    return (*(((strip,),) for strip in alone), *next(packings(narrow, roll, Effort(0))))


def cut_strips(
    strips: Sequence[tuple[float, float, int]],
    width: float,
    stocks: Sequence[Stock],
    node_limit: int = NODE_LIMIT,
    effort: Effort | None = None,
    enough: float | None = None,
) -> RollPlan:
    """The cheapest rolls [mm] of a width found for strips [length, width in mm and their number], cut without
    kerf; a strip wider than the roll counts as just as wide. A `node_limit` of 0, `effort`, `enough` and the
    errors are those of `cut`.
    """
    roll = Roll(up(width), max((up(stock.length) for stock in stocks), default=0))
    wanted = _whole(strips, roll)
    if any(strip.length > roll.longest for strip in wanted):
        raise CannotCut("A strip is longer than every roll.")
    alone, narrow = roll.alone(wanted)
    search = _Search(alone, narrow, roll, stocks, node_limit, effort or Effort(), enough)
    return search.best()


def _whole(strips: Sequence[tuple[float, float, int]], roll: Roll) -> list[Strip]:
    """In hundredths of a millimetre, rounded down as all pieces are."""
    return [
        Strip(down(length), min(roll.width, down(width)))
        for length, width, count in strips
        for _ in range(count)
    ]


def _rank(plan: RollPlan) -> tuple[float, float]:
    return plan.plan.cost, plan.length


class _Search:
    """Rips first as comes first, then in every way while that may be cheaper."""

    def __init__(
        self,
        alone: Sequence[Strip],
        narrow: Sequence[Strip],
        roll: Roll,
        stocks: Sequence[Stock],
        node_limit: int,
        effort: Effort,
        enough: float | None,
    ) -> None:
        self._alone: Sections = tuple(((strip,),) for strip in alone)
        self._narrow, self._roll, self._stocks = narrow, roll, stocks
        self._node_limit, self._effort, self._enough = node_limit, effort, enough
        self._tried: dict[tuple[int, ...], RollPlan] = {}
        self._least: RollPlan | None = None
        self._bound = 0.0

    def best(self) -> RollPlan:
        """Where no two strips fit side by side the sections are the strips, and their plan is the answer."""
        for sections in packings(self._narrow, self._roll, self._effort):
            self._try(sections)
            if not self._narrow or not self._open():
                break
        if self._narrow:
            self._bound = self._area_bound()
            self._try_every_way()
        best = min(self._tried.values(), key=_rank)
        bound = self._bound if self._narrow else best.plan.bound
        return replace(best, plan=replace(best.plan, bound=min(best.plan.cost, bound)))

    def _wanted(self) -> float:
        """What an answer must cost less than."""
        known = inf if self._least is None else self._least.plan.cost
        return min(known, inf if self._enough is None else self._enough)

    def _open(self) -> bool:
        return self._bound < self._wanted()

    def _try(self, narrow: Sections) -> None:
        sections = (*self._alone, *narrow)
        lengths = tuple(sorted(map(length_of, sections)))
        if lengths not in self._tried:
            enough = self._wanted() if self._tried else self._enough
            demands = [Demand(length / STEPS_PER_MM, 1) for length in lengths]
            part = self._effort.part(4)
            plan = cut(demands, self._stocks, 0.0, self._node_limit, part, enough)
            self._effort.give_back(part)
            self._tried[lengths] = RollPlan(plan, sections)
            self._least = min(self._tried.values(), key=_rank)

    def _area_bound(self) -> float:
        """Of all strips; or of those that no other fits beside, each a section of its own."""
        unit, costs = whole_costs(stock.cost for stock in self._stocks)
        capacities = tuple(up(stock.length) for stock in self._stocks)
        rolls = Problem((), (), capacities, costs, tuple(stock.limit for stock in self._stocks))
        strips = [*(lane[0] for (lane,) in self._alone), *self._narrow]
        part = self._effort.part(2) if self._node_limit else Effort(0)
        bound = area_bound(strips, self._roll.width, rolls, part) * unit / STEPS_PER_COST
        self._effort.give_back(part)
        sure = [Demand(strip.length / STEPS_PER_MM, 1) for ((strip,),) in self._alone]
        return max(bound, cut(sure, self._stocks, 0.0, 0, Effort(0)).bound)

    def _try_every_way(self) -> None:
        """All ways tried, and each proven no cheaper, prove the best of them."""
        if not self._node_limit or not self._open() or self._effort.spent:
            return
        ways = every_way(self._narrow, self._roll, self._most, self._effort)
        for sections in ways:
            self._try(sections)
            if len(self._tried) >= MOST_WAYS or not self._open():
                return
        if not self._effort.spent:
            proven = min(self._wanted(), *(tried.plan.bound for tried in self._tried.values()))
            self._bound = max(self._bound, proven)

    def _most(self) -> int:
        """How long the narrow strips' sections may be [steps], all told, in rolls that cost less."""
        free = sum(up(stock.length) * (stock.limit or 0) for stock in self._stocks if not stock.cost)
        rate = max((up(stock.length) / stock.cost for stock in self._stocks if stock.cost), default=0.0)
        cheaper = self._wanted() - 1 / STEPS_PER_COST
        return free + floor(cheaper * rate + 1e-6) - sum(map(length_of, self._alone))
