"""Sets of sellers at each level of what their orders are charged, and how cheap a basket can be there.

At a level each seller of a set either is paid for delivery or sells so much that he delivers free; in both
his minimum order is a goal for his goods. A Lagrangian multiplier for each goal leaves one cheapest option
for every lot, and with it a bound (Geoffrion, "Lagrangean relaxation for integer programming", 1974).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product as every_combination

import numpy as np

from service.pricing.basket.problem import Problem
from service.pricing.basket.ranking import TwoBest, offer_swapped
from service.pricing.basket.tables import Array, Flags, Numbers, Sets, Tables

ROUNDS = 40
"""Steps taken at most to raise the bounds."""
_SLOW = 0.3
"""The pace of a level that gains no more."""
_EXACT = 4096.0
_HIGHEST = 4.0
"""Multipliers are whole 4,096ths and not over four times what goods are judged at, so that sums are exact."""


@dataclass(frozen=True, slots=True)
class Levels:
    """One row each: the set, the goals and what is charged, the multipliers and the bound that they give."""

    sets: Numbers
    goals: Array
    charges: Array
    multipliers: Array
    least: Array

    def at(self, rows: Numbers) -> Levels:
        return Levels(
            self.sets[rows], self.goals[rows], self.charges[rows], self.multipliers[rows], self.least[rows]
        )

    def raise_to(self, rows: Numbers, least: Array, multipliers: Array) -> None:
        """Higher bounds, with the multipliers that give them."""
        self.least[rows], self.multipliers[rows] = least, multipliers


def first_baskets(tables: Tables, sets: Sets, every: Problem, found: TwoBest) -> None:
    """Offer the best of the sets' cheapest options, and the best that differs from it in one lot."""
    _offer(tables, sets.judged, sets.judged.argmin(axis=2), found)
    offer_swapped(every, found)


def open_levels(tables: Tables, sets: Sets, found: TwoBest) -> Levels:
    """The levels at which a basket might be one of the best two, by bounds without multipliers."""
    firsts = sets.judged.min(axis=2)
    reach = _most_goods(tables, sets)
    base = firsts.sum(axis=1) + _use(tables, sets, firsts)
    rows: list[tuple[int, list[float], float]] = []
    charged = np.where(sets.members, tables.charges(reach), 0.0).sum(axis=1)
    least = base + charged
    for row in np.flatnonzero(np.isfinite(least) & (least <= found.cutoff - 1)).tolist():
        budget = found.cutoff - 1 - base[row]
        rows.extend((row, *level) for level in _levels(tables, sets.members[row], reach[row], budget))
    count = len(tables.problem.sellers)
    goals = np.array([goals for _, goals, _ in rows], dtype=float).reshape(len(rows), count)
    charges = np.array([charge for _, _, charge in rows], dtype=float)
    numbers = np.array([row for row, _, _ in rows], dtype=np.int64)
    return Levels(numbers, goals, charges, np.zeros_like(goals), base[numbers] + charges)


def _most_goods(tables: Tables, sets: Sets) -> Array:
    """What each seller could sell at most, set by set."""
    goods = np.where(np.isfinite(sets.judged)[..., np.newaxis], tables.goods, 0.0)
    most: Array = goods.max(axis=2).sum(axis=1)
    return most


def _use(tables: Tables, sets: Sets, firsts: Array) -> Array:
    """What it adds at least that each seller of the set sells something: what one gains no other one does,
    but where an option is of several."""
    more = np.where(tables.uses.sum(axis=2) > 1, 0.0, sets.judged - firsts[..., np.newaxis])
    more = np.where(np.isfinite(sets.judged), more, np.inf)
    use = np.zeros(len(sets.judged))
    for seller in range(len(tables.problem.sellers)):
        least = np.where(tables.uses[..., seller], more, np.inf).min(axis=(1, 2))
        use += np.where(sets.members[:, seller], least, 0.0)
    return use


def _levels(
    tables: Tables, members: Flags, reach: Array, budget: float
) -> Iterator[tuple[list[float], float]]:
    """Goals and charge of every combination of the sellers' levels that can be reached for the budget."""
    each = [
        list(_of_seller(tables, seller, reach[seller])) if member else [(0.0, 0.0)]
        for seller, member in enumerate(members.tolist())
    ]
    for combination in every_combination(*each):
        charge = sum(paid for _, paid in combination)
        if charge <= budget:
            yield [goal for goal, _ in combination], charge


def _of_seller(tables: Tables, seller: int, reach: float) -> Iterator[tuple[float, float]]:
    """Goods to reach, and what the order is then charged."""
    minimum, free_over = float(tables.minimum[seller]), float(tables.free_over[seller])
    delivery, carry_in = float(tables.delivery[seller]), float(tables.carry_in[seller])
    if minimum <= reach and delivery and minimum < free_over:
        yield minimum, carry_in + delivery
    free = minimum if not delivery else max(minimum, free_over)
    if free <= reach:
        yield free, carry_in


def relaxed(tables: Tables, sets: Sets, levels: Levels, every: Problem, found: TwoBest) -> Levels:
    """Raise the bounds by subgradient steps, each as long as its level still gains by them, and offer the
    baskets met on the way; the levels that are left open."""
    pace, tried = np.ones(len(levels.sets)), levels.multipliers.copy()
    steady = np.zeros(len(levels.sets), dtype=bool)
    for _ in range(ROUNDS):
        moving = np.flatnonzero(~steady & (levels.least <= found.cutoff - 1))
        if not len(moving):
            break
        at = levels.at(moving)
        judged = sets.judged[at.sets]
        reduced = judged - np.tensordot(tried[moving], tables.goods, axes=(1, 2))
        picks = reduced.argmin(axis=2)
        bound = reduced.min(axis=2).sum(axis=1) + (tried[moving] * at.goals).sum(axis=1) + at.charges
        if _offer(tables, judged, picks, found):
            offer_swapped(every, found)
        rises = bound > at.least
        levels.raise_to(moving[rises], bound[rises], tried[moving[rises]])
        pace[moving] *= np.where(rises, 1.0, 0.7)
        step = _step(at, tried[moving], _goods(tables, picks), pace[moving], found.cutoff)
        after = np.clip(np.round((tried[moving] + step) * _EXACT) / _EXACT, 0.0, _HIGHEST * tables.weight)
        steady[moving] = (pace[moving] < _SLOW) | (after == tried[moving]).all(axis=1)
        tried[moving] = after
    return levels.at(np.flatnonzero(levels.least <= found.cutoff - 1))


def _step(levels: Levels, multipliers: Array, goods: Array, pace: Array, cutoff: float) -> Array:
    """Polyak's step towards the cutoff; goals that are passed and cost nothing do not count."""
    short = np.where(levels.goals > 0, levels.goals - goods, 0.0)
    active = np.where((short < 0) & (multipliers == 0), 0.0, short)
    length = (active**2).sum(axis=1)
    ahead = cutoff - levels.least if np.isfinite(cutoff) else levels.least / 50
    size = pace * np.maximum(ahead, 1.0) / np.where(length > 0, length, np.inf)
    step: Array = active * size[:, np.newaxis]
    return step


def _goods(tables: Tables, picks: Numbers) -> Array:
    """The goods of each seller in each choice."""
    goods: Array = tables.goods[np.arange(picks.shape[1]), picks].sum(axis=1)
    return goods


def _offer(tables: Tables, judged: Array, picks: Numbers, found: TwoBest) -> bool:
    """Offer the best two of the choices, where they are better than what was found."""
    lots = np.arange(picks.shape[1])
    uses = tables.uses[lots, picks].any(axis=1)
    options = np.take_along_axis(judged, picks[..., np.newaxis], axis=2).sum(axis=(1, 2))
    whole = options + np.where(uses, tables.charges(_goods(tables, picks)), 0.0).sum(axis=1)
    promising = np.flatnonzero(whole < found.cutoff)
    before = found.best
    for row in promising[np.argsort(whole[promising], kind="stable")][:4].tolist():
        found.offer(tables.choice(picks[row]))
    return found.best != before
