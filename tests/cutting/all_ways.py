"""Ways to cut stock that share nothing with the solver: every one of them tried, or the plainest."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from functools import cache
from itertools import product
from math import fsum
from random import Random

import pytest

from service.cutting.problem import Problem
from service.cutting.stock import CuttingPlan, Demand, Stock


def whole_problem(stick: int, order: dict[int, int]) -> Problem:
    return Problem(
        tuple(sorted(order, reverse=True)),
        tuple(order[s] for s in sorted(order, reverse=True)),
        (stick,),
        (1,),
        (None,),
    )


def check(plan: CuttingPlan, wanted: Sequence[Demand], kerf: float) -> None:
    """Each demand met exactly, no stick overfull (within the stated rounding), no stock overdrawn."""
    order: Counter[float] = Counter()
    for demand in wanted:
        order[demand.length] += demand.count
    got: Counter[float] = Counter()
    drawn: Counter[Stock] = Counter()
    for pattern in plan.patterns:
        steps = 2 * len(pattern.pieces)
        assert fsum(pattern.pieces) + kerf * (len(pattern.pieces) - 1) <= pattern.stock.length + 0.01 * steps
        drawn[pattern.stock] += pattern.times
        for piece in pattern.pieces:
            got[piece] += pattern.times
    assert got == +order
    assert all(stock.limit is None or times <= stock.limit for stock, times in drawn.items())
    assert plan.cost == pytest.approx(fsum(stock.cost * times for stock, times in drawn.items()))
    assert 0 <= plan.bound <= plan.cost
    assert plan.optimal == (plan.gap == 0)


def fewest_by_recursion(problem: Problem) -> int:
    patterns = every_pattern(problem)

    @cache
    def fewest(left: tuple[int, ...]) -> int:
        if not any(left):
            return 0
        first = next(kind for kind, count in enumerate(left) if count)
        usable = (p for p in patterns if p[first] and all(a <= b for a, b in zip(p, left, strict=True)))
        return 1 + min(fewest(tuple(a - b for a, b in zip(left, p, strict=True))) for p in usable)

    return fewest(problem.counts)


def least_cost(pieces: Sequence[int], stocks: Sequence[Stock], kerf: int) -> float | None:
    """The least cost over all partitions of the pieces and all stocks for each part; None if none fits."""
    everything = (1 << len(pieces)) - 1
    used = [0] * (everything + 1)
    for subset in range(1, everything + 1):
        low = (subset & -subset).bit_length() - 1
        rest = subset & (subset - 1)
        used[subset] = used[rest] + pieces[low] + (kerf if rest else 0)

    @cache
    def cheapest(left: int, stores: tuple[int | None, ...]) -> float:
        if not left:
            return 0.0
        first = left & -left
        others = part = left ^ first
        best = float("inf")
        while True:
            subset = part | first
            for s, stock in enumerate(stocks):
                if used[subset] <= stock.length and stores[s] != 0:
                    fewer = tuple(n - 1 if n is not None and i == s else n for i, n in enumerate(stores))
                    best = min(best, stock.cost + cheapest(left ^ subset, fewer))
            if not part:
                return best
            part = (part - 1) & others

    cost = cheapest(everything, tuple(stock.limit for stock in stocks))
    return None if cost == float("inf") else cost


def first_fit_decreasing(pieces: Sequence[float], stick: float, kerf: float) -> int:
    sticks: list[float] = []
    for piece in sorted(pieces, reverse=True):
        place = next((i for i, room in enumerate(sticks) if piece <= room + 1e-6), None)
        if place is None:
            sticks.append(stick)
            place = len(sticks) - 1
        sticks[place] -= piece + kerf
    return len(sticks)


def every_pattern(problem: Problem) -> list[tuple[int, ...]]:
    ranges = (
        range(min(c, problem.capacities[0] // s) + 1)
        for s, c in zip(problem.sizes, problem.counts, strict=True)
    )
    return [pieces for pieces in product(*ranges) if 0 < problem.used(pieces) <= problem.capacities[0]]


def order_of(pieces: int, lengths: int, seed: int) -> list[Demand]:
    random = Random(seed)
    counts = Counter(random.choice(range(lengths)) for _ in range(pieces))
    kinds = random.sample(range(20_000, 190_000), lengths)
    return [Demand(kinds[kind] / 100, count) for kind, count in sorted(counts.items())]
