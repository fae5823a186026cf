"""Every choice that the bound of a level leaves, lot by lot, all of them side by side."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from service.pricing.basket.levels import Levels
from service.pricing.basket.problem import Problem
from service.pricing.basket.ranking import TwoBest
from service.pricing.basket.tables import Array, Flags, Numbers, Sets, Tables

WIDTHS = 200, 3_000, 20_000
"""Choices kept side by side: first few of them to find a better basket, then more to prove that there is none
or to leave it to the model."""
_CROWD = 60
"""Choices from which on it pays to compare them with each other."""


@dataclass(frozen=True, slots=True)
class _Partial:
    """Choices for some lots: what they add to the bound, their cost and their goods by seller with a goal."""

    spare: Array
    cost: Array
    goods: Array
    picks: Numbers

    def of(self, kept: Numbers) -> _Partial:
        return _Partial(self.spare[kept], self.cost[kept], self.goods[kept], self.picks[kept])


class Leftover:
    """What is left of one level: its options within the bound, lots with the largest steps first."""

    def __init__(self, tables: Tables, sets: Sets, levels: Levels, row: int, found: TwoBest) -> None:
        judged, goals = sets.judged[levels.sets[row]], levels.goals[row]
        reduced = judged - tables.goods @ levels.multipliers[row]
        least = reduced.min(axis=1)
        bound = float(least.sum() + levels.multipliers[row] @ goals + levels.charges[row])
        self._tables, self._judged = tables, judged
        self._budget = found.cutoff - 1 - bound
        self._spare = reduced - least[:, np.newaxis]
        self.near = np.isfinite(judged) & (self._spare <= self._budget)
        sellers = np.flatnonzero(goals > 0)
        self._goods = np.where(self.near[..., np.newaxis], tables.goods[..., sellers], 0.0)
        steps = np.sort(np.where(self.near, self._spare, np.inf), axis=1)
        open_ = np.flatnonzero(self.near.sum(axis=1) > 1)
        self._order = open_[np.argsort(-steps[open_, 1:2].sum(axis=1), kind="stable")].tolist()
        self._first = reduced.argmin(axis=1)
        self._fixed = np.setdiff1d(np.arange(len(judged)), open_)
        reach = self._goods.max(axis=1)
        later = np.cumsum(reach[self._order[::-1]], axis=0)[::-1]
        self._needed = [*(goals[sellers] - later[1:]), goals[sellers]]

    def offer(self, found: TwoBest, width: int) -> bool:
        """Offer the best two choices; whether there is none besides, as far as so many were kept."""
        if self._budget < 0:
            return True
        partial, whole = self._start(), True
        for lot, needed in zip(self._order, self._needed, strict=False):
            partial = self._undominated(self._with(partial, lot, needed))
            if len(partial.spare) > width:
                whole = False
                partial = partial.of(np.argsort(partial.spare, kind="stable")[:width])
        for place in np.argsort(partial.cost, kind="stable")[:2].tolist():
            found.offer(self._tables.choice(partial.picks[place]))
        return whole

    def _start(self) -> _Partial:
        """What lots with one option left come to."""
        fixed = self._fixed, self._first[self._fixed]
        goods = self._goods[fixed].sum(axis=0, keepdims=True)
        cost = np.array([self._judged[fixed].sum()])
        return _Partial(np.zeros(1), cost, goods, self._first[np.newaxis])

    def _with(self, partial: _Partial, lot: int, needed: Array) -> _Partial:
        """Each choice with each option of one more lot, as far as bound and goals leave it."""
        near = np.flatnonzero(self.near[lot])
        spare = partial.spare[:, np.newaxis] + self._spare[lot, near]
        goods = partial.goods[:, np.newaxis] + self._goods[lot, near]
        kept: Flags = (spare <= self._budget) & (goods >= needed).all(axis=2)
        rows, options = np.nonzero(kept)
        picks = partial.picks[rows]
        picks[:, lot] = near[options]
        cost = partial.cost[rows] + self._judged[lot, near[options]]
        return _Partial(spare[kept], cost, goods[kept], picks)

    def _undominated(self, partial: _Partial) -> _Partial:
        """Without choices that two others equal or better in cost and in goods, for one goal at most."""
        if len(partial.spare) < _CROWD or partial.goods.shape[1] > 1:
            return partial
        goods = partial.goods.sum(axis=1)
        order = np.lexsort((-goods, partial.cost))
        first = _front(goods[order])
        rest = order[~first]
        return partial.of(np.sort(np.concatenate([order[first], rest[_front(goods[rest])]])))


def _front(goods: Array) -> Flags:
    """Those with more goods than all before them."""
    before = np.concatenate([[-1.0], np.maximum.accumulate(goods)[:-1]]) if len(goods) else goods
    front: Flags = goods > before
    return front


def look_through(tables: Tables, sets: Sets, levels: Levels, found: TwoBest) -> Levels | None:
    """Look through all levels, the most promising first; those that hold too many choices for it."""
    order = np.argsort(levels.least, kind="stable").tolist()
    for width in WIDTHS:
        order = [row for row in order if not _looked(tables, sets, levels, row, found, width)]
    return levels.at(np.array(order)) if order else None


def _looked(tables: Tables, sets: Sets, levels: Levels, row: int, found: TwoBest, width: int) -> bool:
    if levels.least[row] > found.cutoff - 1:
        return True
    return Leftover(tables, sets, levels, row, found).offer(found, width)


def narrowed(tables: Tables, sets: Sets, levels: Levels, found: TwoBest) -> Problem:
    """The problem with only such options as one of the two best baskets could take at these levels."""
    near = np.zeros(tables.judged.shape, dtype=bool)
    for row in range(len(levels.sets)):
        near |= Leftover(tables, sets, levels, row, found).near
    lots = (
        tuple(option for option, open_ in zip(lot, kept, strict=False) if open_)
        for lot, kept in zip(tables.problem.lots, near.tolist(), strict=True)
    )
    return tables.problem._replace(lots=tuple(lots))
