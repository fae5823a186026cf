"""Costs that no cutting can go below, reckoned at once."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from service.cutting.problem import Problem

Whole = NDArray[np.int64]

MOST_MIXES = 2_000
"""Mixes of stocks looked at for one bound."""


def quick_bound(problem: Problem) -> int:
    """The greater of sticks that are together as long as the pieces, and the fewest sticks at the cheapest
    price."""
    material = cover(problem.used(problem.counts), problem.capacities, problem)
    return max(material, fewest_sticks(problem) * min(problem.costs))


def payable(cost: int, problem: Problem) -> int:
    """The least cost from a bound on that whole sticks can come to."""
    return cover(cost, problem.costs, problem)


def cover(need: int, worth: Sequence[int], problem: Problem) -> int:
    """The least cost of sticks that are worth `need` together, by what a stick of each stock is worth; or a
    bound on it, the last stick taken in parts, where there are too many mixes."""
    stocks = zip(worth, problem.costs, problem.limits, strict=True)
    rest = need - sum(w * (limit or 0) for w, cost, limit in stocks if not cost)
    paid = [(w, cost) for w, cost in zip(worth, problem.costs, strict=True) if cost and w]
    return _Cover(sorted(set(paid), key=lambda stock: Fraction(stock[1], stock[0]))).least(rest)


class _Cover:
    """Goes through the counts of each stock, the cheapest for its worth first."""

    def __init__(self, stocks: list[tuple[int, int]]) -> None:
        self._stocks = stocks
        self._visits = 0

    def least(self, need: int) -> int:
        if need <= 0 or not self._stocks:
            return 0
        self._best = min(_ceil(need, worth) * cost for worth, cost in self._stocks)
        self._try(0, need, 0)
        worth, cost = self._stocks[0]
        return self._best if self._visits < MOST_MIXES else _ceil(need * cost, worth)

    def _try(self, number: int, rest: int, spent: int) -> None:
        self._visits += 1
        if rest <= 0:
            self._best = min(self._best, spent)
        elif number < len(self._stocks) and self._visits < MOST_MIXES:
            worth, cost = self._stocks[number]
            for count in range(_ceil(rest, worth), -1, -1):
                left = rest - count * worth
                if spent + count * cost + max(0, _ceil(left * cost, worth)) < self._best:
                    self._try(number + 1, left, spent + count * cost)


def fewest_sticks(problem: Problem) -> int:
    """Martello and Toth's bound L2 (Knapsack Problems, 1990, ch. 8) for sticks of the longest stock.

    For every size up to half a stick: pieces over half stand alone, and what is left beside those that can
    take the size must hold the pieces from that size to half. Length alone and one-per-stick are its ends.
    """
    capacity = max(problem.capacities)
    sizes, counts = (np.array(row, np.int64)[::-1] for row in (problem.sizes, problem.counts))
    halves = int(np.searchsorted(2 * sizes, capacity, side="right"))
    alone = int(counts[halves:].sum())
    small = _from(sizes[:halves] * counts[:halves])
    room = _upto((capacity - sizes[halves:]) * counts[halves:])
    least = np.concatenate((np.zeros(1, np.int64), sizes[:halves]))
    beside = room[np.searchsorted(sizes[halves:], capacity - least, side="right")]
    rest = np.concatenate((small[:1], small[:halves])) - beside
    return alone + max(0, int((-(-rest // capacity)).max()))


def _upto(amounts: Whole) -> Whole:
    """Sums of the first none, one, two and so on."""
    return np.concatenate((np.zeros(1, np.int64), np.cumsum(amounts)))


def _from(amounts: Whole) -> Whole:
    """Sums of all, all but the first, and so on down to none."""
    return _upto(amounts[::-1])[::-1]


def _ceil(dividend: int, divisor: int) -> int:
    return -(-dividend // divisor)
