"""The pieces worth most in one stick, exactly, by lists of undominated fillings.

Nemhauser and Ullmann (Management Science 15, 1969): a filling is kept only if no lighter one is worth as
much. Fillings that cannot come to more than is asked, were the rest filled with the densest piece still to
come, are dropped as well.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.cutting.effort import BATCH, Effort
from service.cutting.problem import Counts, Problem

Whole = NDArray[np.int64]

MOST_STATES = 20_000
"""Fillings kept at once; beyond, the question is given up."""

FILLS_A_STOCK = 8
"""Best fillings handed back for each stock."""

_SLACK = 4096.0  # values are whole and below 2**60: this covers the rounding of the bound in floats


class Fill(NamedTuple):
    stock: int
    value: int
    pieces: Counts


class TooManyStates(Exception):
    """More undominated fillings than are kept, or than there is effort left for."""


class _Batch(NamedTuple):
    """Some pieces of one kind, taken or left together."""

    kind: int
    copies: int
    weight: int
    value: int


def best_fills(problem: Problem, values: Sequence[int], needs: Sequence[int], effort: Effort) -> list[Fill]:
    """For each stock its best fillings worth more than its need; none means that there is none.

    `values` and `needs` are whole numbers below 2**50. Raises TooManyStates.
    """
    batches = _batches(problem, values)
    states = _States(problem, needs, effort)
    for n, batch in enumerate(batches):
        density = batches[n + 1].value / batches[n + 1].weight if n + 1 < len(batches) else 0.0
        states.add(batch, density)
    return list(states.fills(batches))


def _batches(problem: Problem, values: Sequence[int]) -> list[_Batch]:
    """Every kind in parts of 1, 2, 4 ... pieces and the rest, the densest kind first."""
    most = problem.most(max(problem.capacities))
    kinds = (kind for kind, value in enumerate(values) if value > 0)
    order = sorted(kinds, key=lambda kind: -values[kind] / problem.sizes[kind])
    return [
        _Batch(kind, part, part * problem.sizes[kind], part * values[kind])
        for kind in order
        for part in _parts(most[kind])
    ]


def _parts(count: int) -> Iterator[int]:
    part = 1
    while count:
        yield min(part, count)
        count -= min(part, count)
        part *= 2


@dataclass(frozen=True)
class _Step:
    before: int  # fillings before the batch was offered
    source: Whole  # filling each kept one came from; from `before` on, with the batch taken


class _States:
    """Undominated fillings in the order of their weight, and how they came about."""

    def __init__(self, problem: Problem, needs: Sequence[int], effort: Effort) -> None:
        self._problem = problem
        self._needs = needs
        self._effort = effort
        self._capacity = max(problem.capacities)
        self._weight: Whole = np.zeros(1, np.int64)
        self._value: Whole = np.zeros(1, np.int64)
        self._steps: list[_Step] = []

    def add(self, batch: _Batch, density: float) -> None:
        """Offers a batch to every filling; `density` is that of the best piece still to come."""
        before = len(self._weight)
        room = int(np.searchsorted(self._weight, self._capacity - batch.weight, side="right"))
        weight = np.concatenate((self._weight, self._weight[:room] + batch.weight))
        value = np.concatenate((self._value, self._value[:room] + batch.value))
        order = np.argsort(weight, kind="stable")
        weight, value = weight[order], value[order]
        kept = _rising(value) & self._promising(weight, value, density)
        self._weight, self._value = weight[kept], value[kept]
        self._steps.append(_Step(before, order[kept]))
        self._effort.spend(BATCH + before + room)
        if len(self._weight) > MOST_STATES or self._effort.spent:
            raise TooManyStates

    def _promising(self, weight: Whole, value: Whole, density: float) -> NDArray[np.bool_]:
        promising = np.zeros(len(weight), np.bool_)
        for capacity, need in zip(self._problem.capacities, self._needs, strict=True):
            room = capacity - weight
            promising |= (room >= 0) & (value + density * room > need - _SLACK)
        return promising

    def fills(self, batches: Sequence[_Batch]) -> Iterator[Fill]:
        """The best fillings of each stock, its very best first."""
        for stock, (capacity, need) in enumerate(zip(self._problem.capacities, self._needs, strict=True)):
            worth = np.flatnonzero((self._weight <= capacity) & (self._value > need))
            best = worth[np.argsort(-self._value[worth], kind="stable")][:FILLS_A_STOCK]
            for state in best.tolist():
                yield Fill(stock, int(self._value[state]), self._pieces(state, batches))

    def _pieces(self, state: int, batches: Sequence[_Batch]) -> Counts:
        pieces = [0] * len(self._problem.sizes)
        for step, batch in zip(reversed(self._steps), reversed(batches), strict=True):
            state = int(step.source[state])
            if state >= step.before:
                state -= step.before
                pieces[batch.kind] += batch.copies
        return tuple(pieces)


def _rising(value: Whole) -> NDArray[np.bool_]:
    """Where a value exceeds all before it."""
    rising = np.ones(len(value), np.bool_)
    rising[1:] = value[1:] > np.maximum.accumulate(value)[:-1]
    return rising
