"""Lengths cut from stock at the least cost: sticks, rolls, strips.

The one door to the search in `service.cutting`. The answer is proven optimal or says by how much it
may miss; nothing in it depends on a clock, a seed or the number of cores.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import isfinite

from service.cutting.effort import Effort
from service.cutting.joined import order_of, search_joined
from service.cutting.learnt import Learnt
from service.cutting.problem import Problem, Stick, dearest
from service.cutting.search import Method, Outcome, search
from service.cutting.steps import STEPS_PER_COST, STEPS_PER_MM, down, units, up, whole_costs

NODE_LIMIT = 100
"""Nodes of the branching that ends a search."""


class CannotCut(ValueError):
    """A piece longer than every stock, or more pieces than the limited stock was found to hold."""


@dataclass(frozen=True)
class Demand:
    """`count` pieces of one length [mm]."""

    length: float
    count: int


@dataclass(frozen=True)
class Stock:
    """Sticks of one length [mm], what one adds to the cost, and how many there are (None: no limit).

    A stock that costs nothing, such as an offcut in hand, needs a limit.
    """

    length: float
    cost: float = 1.0
    limit: int | None = None


@dataclass(frozen=True)
class Pattern:
    """Pieces [mm], longest first, cut from one stick; and the number of sticks cut so."""

    stock: Stock
    pieces: tuple[float, ...]
    times: int


@dataclass(frozen=True)
class CuttingPlan:
    """What to cut, each demand met exactly; its cost, and the cost that no plan can go below."""

    patterns: tuple[Pattern, ...]
    cost: float
    bound: float
    method: Method

    @property
    def gap(self) -> float:
        """By how much the cost may miss the optimum."""
        return self.cost - self.bound

    @property
    def optimal(self) -> bool:
        """Whether the plan is proven to be the cheapest."""
        return self.cost <= self.bound

    @property
    def sticks(self) -> int:
        return sum(pattern.times for pattern in self.patterns)


def cut(
    demands: Sequence[Demand],
    stocks: Sequence[Stock],
    kerf: float,
    node_limit: int = NODE_LIMIT,
    effort: Effort | None = None,
    enough: float | None = None,
    learnt: Learnt | None = None,
) -> CuttingPlan:
    """The cheapest plan found within `node_limit` nodes of branching and an effort, which is used up. Kerf
    [mm] is lost between two pieces and at the end of the last, unless it ends flush with the stick. Plans
    that cost what is `enough`, or more, are not told apart: the search ends when its bound gets there. What
    is `learnt` serves further searches of the same demands with the same kerf.

    Lengths that agree in hundredths of a millimetre count as one, the longest. Raises CannotCut if the
    pieces do not go into the stock, and ValueError for lengths not above zero, negative counts, costs, kerf
    or limits, and a stock both free and without limit.
    """
    _check(demands, stocks, kerf)
    lengths, counts = _kinds(demands)
    if not counts:
        return CuttingPlan((), 0.0, 0.0, "packed")
    unit, costs = whole_costs(stock.cost for stock in stocks)
    problem = _problem(lengths, counts, stocks, kerf, costs)
    outcome = search(problem, node_limit, effort, units(enough, unit), learnt)
    return _plan(outcome, problem, lengths, stocks, unit)


def cut_joined(
    demands: Sequence[Demand],
    stocks: Sequence[Stock],
    kerf: float,
    least: float = 0.0,
    node_limit: int = NODE_LIMIT,
    effort: Effort | None = None,
    enough: float | None = None,
    learnt: Learnt | None = None,
) -> CuttingPlan:
    """As `cut`, but lengths longer than every stock are joined end to end of the fewest pieces, none shorter
    than `least` [mm] where that can be. Where they are parted is part of the plan, whose bound holds for
    every parting with so few joints; only where there are too many kinds of whole sticks to begin with is it
    that of the lengths added up."""
    _check(demands, stocks, kerf)
    longest = max((up(stock.length) for stock in stocks), default=0)
    long = [demand for demand in demands if demand.count and down(demand.length) > longest]
    if not long or not longest:
        return cut(demands, stocks, kerf, node_limit, effort, enough, learnt)
    unit, costs = whole_costs(stock.cost for stock in stocks)
    known = _kinds([demand for demand in demands if down(demand.length) <= longest])
    saw = down(kerf)
    rolls = _sticks(stocks, saw, costs)
    runs: Counter[int] = Counter()
    for demand in long:
        runs[_run(demand.length, longest)] += demand.count
    order = order_of(_in_steps(known), dict(sorted(runs.items(), reverse=True)), rolls, saw, down(least))
    given = {down(length): length for length in known[0]}
    lengths = [given.get(steps, steps / STEPS_PER_MM) for steps in order.lengths]
    outcome = search_joined(order, node_limit, effort, units(enough, unit))
    return _plan(outcome, order.problem, lengths, stocks, unit)


def least_cost(stocks: Sequence[Stock], kerf: float, learnt: Learnt) -> float:
    """What sticks of these stocks cost at least, by what is learnt of the demands."""
    unit, costs = whole_costs(stock.cost for stock in stocks)
    return learnt.least(_sticks(stocks, down(kerf), costs)) * unit / STEPS_PER_COST


def _sticks(stocks: Sequence[Stock], saw: int, costs: tuple[int, ...]) -> Problem:
    """Nothing but the stocks."""
    return Problem((), (), tuple(up(s.length) + saw for s in stocks), costs, tuple(s.limit for s in stocks))


def _run(length: float, longest: int) -> int:
    """A run to be joined [mm] in steps: rounded up, so that its pieces make up all of it, but not if that
    took a joint more."""
    lower, upper = down(length), up(length)
    return upper if -(-upper // longest) == -(-lower // longest) else lower


def _in_steps(kinds: tuple[Sequence[float], Sequence[int]]) -> dict[int, int]:
    return {down(length): count for length, count in zip(*kinds, strict=True)}


def _plan(
    outcome: Outcome, problem: Problem, lengths: Sequence[float], stocks: Sequence[Stock], unit: int
) -> CuttingPlan:
    if outcome.sticks is None:
        raise CannotCut(_no_plan(problem, outcome.bound))
    cost, bound = (units * unit / STEPS_PER_COST for units in (problem.cost(outcome.sticks), outcome.bound))
    return CuttingPlan(_patterns(outcome.sticks, lengths, stocks), cost, bound, outcome.method)


def _check(demands: Sequence[Demand], stocks: Sequence[Stock], kerf: float) -> None:
    if not all(isfinite(d.length) and d.length * STEPS_PER_MM >= 1 and d.count >= 0 for d in demands):
        raise ValueError("A piece is at least 0.01 mm long and its count not negative.")
    if not all(isfinite(s.length) and s.length > 0 and (s.limit is None or s.limit >= 0) for s in stocks):
        raise ValueError("A stock has a length above zero and no negative limit.")
    if not all(isfinite(s.cost) and s.cost >= 0 and (s.limit is not None or s.cost > 0) for s in stocks):
        raise ValueError("A stock's cost is not negative, and above zero unless the stock has a limit.")
    if not (isfinite(kerf) and kerf >= 0):
        raise ValueError("The kerf is not negative.")


def _kinds(demands: Sequence[Demand]) -> tuple[list[float], list[int]]:
    """Different lengths [mm], longest first, and how many of each."""
    longest: dict[int, float] = defaultdict(float)
    counts: Counter[int] = Counter()
    for demand in demands:
        if demand.count:
            steps = down(demand.length)
            longest[steps] = max(longest[steps], demand.length)
            counts[steps] += demand.count
    order = sorted(counts, reverse=True)
    return [longest[steps] for steps in order], [counts[steps] for steps in order]


def _problem(
    lengths: Sequence[float],
    counts: Sequence[int],
    stocks: Sequence[Stock],
    kerf: float,
    costs: tuple[int, ...],
) -> Problem:
    saw = down(kerf)
    sizes = tuple(down(length) + saw for length in lengths)
    problem = replace(_sticks(stocks, saw, costs), sizes=sizes, counts=tuple(counts))
    if problem.sizes[0] > max(problem.capacities, default=0):
        raise CannotCut(f"A piece of {lengths[0]:.1f} mm is longer than every stock.")
    return problem


def _no_plan(problem: Problem, bound: int) -> str:
    if bound > dearest(problem):
        return "The stock does not hold all pieces."
    return "No way was found to cut all pieces from the stock."


def _patterns(
    sticks: Sequence[Stick], lengths: Sequence[float], stocks: Sequence[Stock]
) -> tuple[Pattern, ...]:
    """Equal sticks gathered, in the order of the stocks and then those with the longest pieces first."""
    times = Counter(sticks)
    order = sorted(times, key=lambda stick: (stick[0], tuple(-count for count in stick[1])))
    return tuple(Pattern(stocks[stick[0]], _pieces(stick, lengths), times[stick]) for stick in order)


def _pieces(stick: Stick, lengths: Sequence[float]) -> tuple[float, ...]:
    return tuple(length for length, count in zip(lengths, stick[1], strict=True) for _ in range(count))
