"""The linear relaxation by generated columns, with a bound that holds in whole numbers.

Gilmore and Gomory (Operations Research 9, 1961, and 11, 1963). The bound comes not from the programme's
floating-point cost but from its prices, rounded to whole numbers and scaled until no pattern is worth more
than its stick (A. A. Farley, Operations Research 38, 1990): any such prices give a true bound.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil
from operator import mul

from service.cutting.bounds import cover, payable
from service.cutting.effort import Effort
from service.cutting.knapsack import Fill, TooManyStates, best_fills
from service.cutting.master import Master, Prices
from service.cutting.problem import Partings, Problem, Stick

_VALUE_BITS = 48  # the dearest stick is worth 2**48, so that values of whole fillings stay below 2**60
_ROUNDS = 2000
_NOISE = 1e-8
_COST_NOISE = 1e-6


@dataclass(frozen=True)
class Dual:
    """Whole-number prices of pieces (>= 0) and stocks (<= 0), `scale` being worth one unit of cost."""

    pieces: tuple[int, ...]
    stocks: tuple[int, ...]
    scale: int

    def bound(self, problem: Problem, partings: Partings | None = None) -> Fraction:
        """What the order costs at least; runs to be parted are worth their cheapest way."""
        counts = partings.fixed if partings else problem.counts
        worth = sum(price * count for price, count in zip(self.pieces, counts, strict=True))
        worth += self._parted(partings) if partings else 0
        rent = sum(price * (limit or 0) for price, limit in zip(self.stocks, problem.limits, strict=True))
        return Fraction(worth + rent, self.scale)

    def _parted(self, partings: Partings) -> int:
        cheapest: dict[int, int] = {}
        for run, pieces in partings.ways:
            worth = sum([self.pieces[kind] * count for kind, count in pieces])
            cheapest[run] = min(worth, cheapest.get(run, worth))
        return sum(cheapest[run] * count for run, count in enumerate(partings.runs))


@dataclass(frozen=True)
class Relaxation:
    """Best prices found, the columns generated and how often the last programme cut each of them."""

    dual: Dual
    columns: tuple[Stick, ...]
    amounts: tuple[float, ...]


def relax(
    problem: Problem,
    start: Iterable[Stick],
    effort: Effort,
    goal: int | None = None,
    partings: Partings | None = None,
) -> Relaxation:
    """The relaxation from the columns of the plans `start`, which may be none. With a `goal` it ends early:
    once the bound reaches that, or is as high in whole sticks as it can get. When the fillings grow too many
    or the effort is spent it ends with the bound so far. With `partings` the problem's counts are but the
    most of each size that can be wanted."""
    master, columns = Master(problem, partings), list(dict.fromkeys(start))
    if not columns or partings:
        master.add_outside(max(problem.costs) * sum(problem.counts) + 1)
    master.add(columns)
    dual, prices = _nothing(problem), master.solve(effort)
    for _ in range(_ROUNDS):
        try:
            offered, fills = _price(problem, prices, effort)
        except TooManyStates:
            break
        dual = max(dual, offered, key=lambda d: d.bound(problem, partings))
        new = _new_columns(fills, columns)
        bound = ceil(dual.bound(problem, partings))
        if not new or (goal is not None and (bound >= goal or _settled(bound, prices, problem))):
            break
        master.add(new)
        columns += new
        prices = master.solve(effort)
    return Relaxation(dual, tuple(columns), prices.amounts[-len(columns) :] if columns else ())


def _settled(bound: int, prices: Prices, problem: Problem) -> bool:
    """Whether no prices can give a higher bound in whole sticks of one stock, or in units of cost."""
    highest = ceil(prices.cost - _COST_NOISE)
    alike = len(problem.costs) == 1
    return bound >= highest or (alike and payable(bound, problem) >= payable(highest, problem))


def _nothing(problem: Problem) -> Dual:
    return Dual((0,) * len(problem.sizes), (0,) * len(problem.costs), 1)


@dataclass(frozen=True)
class Weights:
    """What all pieces are worth together, and what one stick of each stock holds at most: sticks that are
    worth less do not hold the order, whatever they cost."""

    wanted: int
    sticks: tuple[int, ...]

    def bound(self, stocks: Problem, grain: int = 1) -> int:
        """What sticks that are worth enough cost at least. `stocks` may have other costs and limits than the
        problem weighed; each piece counts as one of `grain`."""
        return cover(-(-self.wanted // grain), self.sticks, stocks)


def weigh(problem: Problem, relaxed: Relaxation, effort: Effort) -> Weights:
    """By the relaxation's prices: what the best filling is worth, or where there are too many, what these
    prices allow. Where sticks cannot be filled up the bound is more than `payable`."""
    dual = relaxed.dual
    try:
        sticks = _most_worth(problem, dual, relaxed.columns, effort)
    except TooManyStates:
        stocks = zip(problem.costs, dual.stocks, strict=True)
        sticks = [cost * dual.scale - rent for cost, rent in stocks]
    return Weights(sum(map(mul, dual.pieces, problem.counts)), tuple(sticks))


def _most_worth(problem: Problem, dual: Dual, known: Sequence[Stick], effort: Effort) -> list[int]:
    """The value of the best filling of each stock; `known` ones are where the search begins."""
    worth = [0] * len(problem.costs)
    for stock, pieces in known:
        worth[stock] = max(worth[stock], sum(map(mul, dual.pieces, pieces)))
    for fill in best_fills(problem, dual.pieces, worth, effort):
        worth[fill.stock] = max(worth[fill.stock], fill.value)
    return worth


def _new_columns(fills: Sequence[Fill], known: Sequence[Stick]) -> list[Stick]:
    found = dict.fromkeys((fill.stock, fill.pieces) for fill in fills)
    for stick in known:
        found.pop(stick, None)
    return list(found)


def _price(problem: Problem, prices: Prices, effort: Effort) -> tuple[Dual, list[Fill]]:
    """Patterns worth more than their stick at these prices, and the prices lowered until none is."""
    dearest = max(problem.costs) or 1
    scale = (1 << _VALUE_BITS) // dearest
    values = [int(min(price, dearest * 4.0) * scale) for price in prices.pieces]
    stocks = zip(problem.costs, prices.stocks, strict=True)
    needs = [int(cost * scale) + int((_NOISE * dearest - price) * scale) for cost, price in stocks]
    fills = best_fills(problem, values, needs, effort)
    best = list(needs)
    for fill in fills:
        best[fill.stock] = max(best[fill.stock], fill.value)
    return _lowered(problem, scale, values, best), fills


def _lowered(problem: Problem, scale: int, values: Sequence[int], best: Sequence[int]) -> Dual:
    """A stock without limit asks for lower prices of the pieces, one with a limit for a rent of its own."""
    stocks = list(zip(problem.costs, problem.limits, best, strict=True))
    excess = (Fraction(value, cost * scale) for cost, limit, value in stocks if limit is None)
    factor = max((Fraction(1), *excess))
    pieces = tuple(value * factor.denominator // factor.numerator for value in values)
    rents = (
        min(0, cost * scale - ceil(value / factor)) if limit is not None else 0
        for cost, limit, value in stocks
    )
    return Dual(pieces, tuple(rents), scale)
