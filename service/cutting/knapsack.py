"""The pieces worth most in one stick, exactly, by lists of undominated fillings.

Nemhauser and Ullmann (Management Science 15, 1969): a filling is kept only if no lighter one is worth as
much. Fillings that cannot come to more than is asked, were the rest filled with the densest piece still to
come, are dropped as well.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.cutting.effort import BATCH, FILL, Effort
from service.cutting.problem import Counts, Problem

Whole = NDArray[np.int64]

MOST_STATES = 20_000
"""Fillings kept at once; beyond, the question is given up."""

TOGETHER = 3
"""Parts offered in every choice at one step."""

FILLS_A_STOCK = 8
"""Best fillings handed back for each stock."""

_SLACK = 4096.0  # values are whole and below 2**60: this covers the rounding of the bound in floats


class Fill(NamedTuple):
    stock: int
    value: int
    pieces: Counts


class TooManyStates(Exception):
    """More undominated fillings than are kept, or than there is effort left for."""


class _Part(NamedTuple):
    """Some pieces of one kind, taken or left together."""

    kind: int
    copies: int


class _Batch(NamedTuple):
    """Some parts in every choice: `taken` has a bit for each of them."""

    parts: tuple[_Part, ...]
    taken: Whole
    weight: Whole
    value: Whole


def best_fills(problem: Problem, values: Sequence[int], needs: Sequence[int], effort: Effort) -> list[Fill]:
    """For each stock its best fillings worth more than its need, and the best with each of the pieces longer
    than half of the longest stick; none means that there is none.

    `values` and `needs` are whole numbers below 2**50. Raises TooManyStates.
    """
    if effort.spent:
        raise TooManyStates
    halves, parts = _halves(problem, values), _parts(problem, values)
    states = _States(problem, needs, halves, effort)
    for first in range(0, len(parts), TOGETHER):
        next_ = parts[first + TOGETHER].kind if first + TOGETHER < len(parts) else None
        density = 0.0 if next_ is None else values[next_] / problem.sizes[next_]
        states.add(_batch(parts[first : first + TOGETHER], problem, values), density)
    fills = list(states.fills())
    effort.spend(FILL * len(fills))
    return fills


class _Halves(NamedTuple):
    """Pieces of which a stick holds one at most, the shortest first."""

    kinds: Whole
    weight: Whole
    value: Whole


def _halves(problem: Problem, values: Sequence[int]) -> _Halves:
    capacity = max(problem.capacities)
    kinds = [kind for kind, value in enumerate(values) if value > 0 and 2 * problem.sizes[kind] > capacity]
    order = np.array(kinds[::-1], np.int64)
    weight, value = (
        np.array([of[kind] for kind in order.tolist()], np.int64) for of in (problem.sizes, values)
    )
    return _Halves(order, weight, value)


def _parts(problem: Problem, values: Sequence[int]) -> list[_Part]:
    """Every kind of up to half a stick in parts of 1, 2, 4 ... pieces and the rest, the densest first."""
    capacity = max(problem.capacities)
    most = problem.most(capacity)
    kinds = (kind for kind, value in enumerate(values) if value > 0 and 2 * problem.sizes[kind] <= capacity)
    order = sorted(kinds, key=lambda kind: -values[kind] / problem.sizes[kind])
    return [_Part(kind, copies) for kind in order for copies in _doubling(most[kind])]


def _doubling(count: int) -> Iterator[int]:
    part = 1
    while count:
        yield min(part, count)
        count -= min(part, count)
        part *= 2


def _batch(parts: Sequence[_Part], problem: Problem, values: Sequence[int]) -> _Batch:
    weight = value = np.zeros(1, np.int64)
    for kind, copies in parts:
        weight = np.concatenate((weight, weight + copies * problem.sizes[kind]))
        value = np.concatenate((value, value + copies * values[kind]))
    taken = np.flatnonzero(weight <= max(problem.capacities))
    return _Batch(tuple(parts), taken, weight[taken], value[taken])


class _Step(NamedTuple):
    batch: _Batch
    source: Whole  # filling each kept one came from
    choice: Whole  # and what of the batch was put to it


_Found = tuple[int, int | None, int]
"""A filling, the piece longer than half a stick that is added to it, and what both are worth."""


class _States:
    """Undominated fillings in the order of their weight, and how they came about."""

    def __init__(self, problem: Problem, needs: Sequence[int], halves: _Halves, effort: Effort) -> None:
        self._problem = problem
        self._halves = halves
        self._needs = needs
        self._effort = effort
        self._capacity = max(problem.capacities)
        self._weight: Whole = np.zeros(1, np.int64)
        self._value: Whole = np.zeros(1, np.int64)
        self._steps: list[_Step] = []

    def add(self, batch: _Batch, density: float) -> None:
        """Offers a batch to every filling; `density` is that of the best piece still to come."""
        before = len(self._weight)
        weight = np.add.outer(batch.weight, self._weight).ravel()
        value = np.add.outer(batch.value, self._value).ravel()
        self._effort.spend(BATCH + len(weight))
        worth = np.flatnonzero(self._promising(weight, value, density))
        worth = worth[np.argsort(weight[worth], kind="stable")]
        kept = worth[_rising(value[worth])]
        self._weight, self._value = weight[kept], value[kept]
        self._steps.append(_Step(batch, kept % before, batch.taken[kept // before]))
        if len(kept) > MOST_STATES or self._effort.spent:
            raise TooManyStates

    def _promising(self, weight: Whole, value: Whole, density: float) -> NDArray[np.bool_]:
        promising = np.zeros(len(weight), np.bool_)
        more = self._halves.value - density * self._halves.weight
        beside = np.maximum.accumulate(np.concatenate((np.zeros(1), more)))
        for capacity, need in zip(self._problem.capacities, self._needs, strict=True):
            room = capacity - weight
            most = value + density * room + beside[np.searchsorted(self._halves.weight, room, side="right")]
            promising |= (room >= 0) & (most > need - _SLACK)
        return promising

    def fills(self) -> Iterator[Fill]:
        """The best fillings of each stock, its very best first."""
        for stock, (capacity, need) in enumerate(zip(self._problem.capacities, self._needs, strict=True)):
            for state, half, value in self._best(capacity, need):
                yield Fill(stock, value, self._pieces(state, half))

    def _best(self, capacity: int, need: int) -> list[_Found]:
        alone = np.flatnonzero((self._weight <= capacity) & (self._value > need))
        alone = alone[np.argsort(-self._value[alone], kind="stable")][:FILLS_A_STOCK]
        found: list[_Found] = [(state, None, int(self._value[state])) for state in alone.tolist()]
        place = np.searchsorted(self._weight, capacity - self._halves.weight, side="right") - 1
        value = self._halves.value + (self._value[place] if len(self._value) else 0)
        worth = np.flatnonzero((place >= 0) & (value > need))
        found += [(int(place[n]), int(self._halves.kinds[n]), int(value[n])) for n in worth.tolist()]
        return sorted(found, key=lambda each: -each[2])

    def _pieces(self, state: int, half: int | None) -> Counts:
        pieces = [0] * len(self._problem.sizes)
        if half is not None:
            pieces[half] = 1
        for step in reversed(self._steps):
            choice, state = int(step.choice[state]), int(step.source[state])
            for bit, part in enumerate(step.batch.parts if choice else ()):
                pieces[part.kind] += part.copies * (choice >> bit & 1)
        return tuple(pieces)


def _rising(value: Whole) -> NDArray[np.bool_]:
    """Where a value exceeds all before it."""
    rising = np.ones(len(value), np.bool_)
    rising[1:] = value[1:] > np.maximum.accumulate(value)[:-1]
    return rising
