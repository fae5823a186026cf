"""A problem as arrays, and its sets of sellers: lots x options x sellers, short lots filled up with nothing.

All figures are whole numbers, or 4,096ths of one, small enough for binary arithmetic to be exact.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, islice

import numpy as np
from numpy.typing import NDArray

from service.pricing.basket.problem import Problem
from service.pricing.basket.ranking import Choice

MOST_SETS = 255
"""Sets of sellers that are looked at one by one: those of eight; beyond, the model is faster."""
MOST_CELLS = 4_000_000
"""Sets x lots x options, likewise."""
MOST_JUDGED = 1 << 37
"""What all lots may be judged at together, so that 4,096ths of some times as much are exact; likewise."""

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Numbers = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Tables:
    """What each option is judged at (infinite where there is none), the goods and who sells them, and the
    sellers' charges, weighted as they are judged."""

    problem: Problem
    judged: Array
    goods: Array
    uses: Flags
    systems: Numbers
    weight: Array
    delivery: Array
    carry_in: Array
    free_over: Array
    minimum: Array

    def choice(self, picks: Numbers) -> Choice:
        return tuple(lot[place] for lot, place in zip(self.problem.lots, picks.tolist(), strict=True))

    def charges(self, goods: Array) -> Array:
        """What an order is charged by the goods in it; infinite under the minimum order."""
        paid = self.carry_in + np.where(goods >= self.free_over, 0.0, self.delivery)
        return np.where(goods < self.minimum, np.inf, paid)


@dataclass(frozen=True, slots=True)
class Sets:
    """Sets of sellers, each with a system: who is in it, and what each option is judged at (infinite where
    it is not of these)."""

    members: Flags
    judged: Array


def tables_of(problem: Problem) -> Tables | None:
    """None where the numbers are too large to be exact."""
    lots, sellers = problem.lots, problem.sellers
    shape = len(lots), max(map(len, lots), default=0)
    judged = np.full(shape, np.inf)
    goods, uses = np.zeros((*shape, len(sellers))), np.zeros((*shape, len(sellers)), dtype=bool)
    systems = np.full(shape, -1, dtype=np.int64)
    total = 0
    for place, lot in enumerate(lots):
        figures = [problem.judged(option) for option in lot]
        total += max(figures, default=0)
        judged[place, : len(lot)] = figures
        for number, option in enumerate(lot):
            systems[place, number] = -1 if option.system is None else option.system
            for seller, _, value in option.parts:
                goods[place, number, seller] += value
                uses[place, number, seller] = True
    charges = [s.weight * (s.delivery + s.carry_in) for s in sellers]
    limits = [s.weight * max(s.minimum, s.free_over or 0) for s in sellers]
    if max(total + sum(charges), *limits) > MOST_JUDGED:
        return None
    return Tables(
        problem,
        judged,
        goods,
        uses,
        systems,
        np.array([s.weight for s in sellers], dtype=float),
        np.array([s.weight * s.delivery for s in sellers], dtype=float),
        np.array([s.weight * s.carry_in for s in sellers], dtype=float),
        np.array([np.inf if s.free_over is None else s.free_over for s in sellers], dtype=float),
        np.array([s.minimum for s in sellers], dtype=float),
    )


def sets_of(tables: Tables) -> Sets | None:
    """All sets of sellers from whom every lot can be had, in each system; None where there are too many."""
    problem, systems = tables.problem, tables.problem.systems
    selling = np.flatnonzero(tables.uses.any(axis=(0, 1))).tolist()
    sizes = range(1, min(len(selling), problem.most or len(selling)) + 1)
    found = list(islice((s for size in sizes for s in combinations(selling, size)), MOST_SETS + 1))
    if len(found) > MOST_SETS or len(found) * len(systems) * tables.judged.size > MOST_CELLS:
        return None
    if not systems:
        return Sets(np.zeros((0, len(problem.sellers)), dtype=bool), tables.judged[np.newaxis][:0])
    members = np.zeros((len(found), len(problem.sellers)), dtype=bool)
    for row, chosen in enumerate(found):
        members[row, list(chosen)] = True
    outside = np.tensordot(~members, tables.uses, axes=(1, 2)) > 0
    other = [(tables.systems != -1) & (tables.systems != (-2 if s is None else s)) for s in systems]
    judged = np.concatenate([np.where(outside | wrong, np.inf, tables.judged) for wrong in other])
    members = np.tile(members, (len(systems), 1))
    whole = np.isfinite(judged).any(axis=2).all(axis=1)
    return Sets(members[whole], judged[whole])
