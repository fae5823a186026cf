"""The best basket and the second best of a problem, with what is proven of each."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import inf
from typing import Literal

from service.pricing.basket.core import Core
from service.pricing.basket.leftover import look_through, narrowed
from service.pricing.basket.levels import first_baskets, open_levels, relaxed
from service.pricing.basket.problem import Problem
from service.pricing.basket.ranking import Candidate, Choice, TwoBest, offer_swapped
from service.pricing.basket.reduce import reduced
from service.pricing.basket.tables import Sets, Tables, sets_of, tables_of

Method = Literal["bound", "enumeration", "model", "model_limit"]


@dataclass(frozen=True, slots=True)
class Outcome:
    """The best choice, what it is judged at, and what no choice is judged below; the second best the same.

    Without a choice: `impossible` says whether there is none, or none was found.
    """

    choice: Choice | None
    judged: int
    least: int
    method: Method
    second: Candidate | None = None
    second_proven: bool = False
    impossible: bool = False


@lru_cache(maxsize=512)
def solve(every: Problem) -> Outcome:
    """A pure function of the problem: the same baskets are solved once."""
    problem = reduced(every)
    tables = tables_of(problem)
    sets = sets_of(tables) if tables else None
    if tables is None or sets is None:
        return _by_model(problem, every, TwoBest(problem))
    return _by_sets(tables, sets, every, TwoBest(problem))


def _by_sets(tables: Tables, sets: Sets, every: Problem, found: TwoBest) -> Outcome:
    """By bounds, then by looking through what they leave; the model gets what is too much for that."""
    first_baskets(tables, sets, every, found)
    levels = relaxed(tables, sets, open_levels(tables, sets, found), every, found)
    best = found.best.judged if found.best else inf
    method: Method = "bound" if (levels.least > best - 1).all() else "enumeration"
    left = look_through(tables, sets, levels, found)
    if left is not None:
        return _by_model(narrowed(tables, sets, left, found), every, found)
    if found.best is None:
        return Outcome(None, 0, 0, method, impossible=True)
    offer_swapped(every, found)
    return Outcome(found.best.choice, found.best.judged, found.best.judged, method, found.second, True)


def _by_model(near: Problem, every: Problem, found: TwoBest) -> Outcome:
    """The best, then the best unlike it. What is outside of `near` is not judged at less than the two best
    that are known."""
    known, core = found.cutoff, Core(near)
    first = core.least(found)
    if found.best is None:
        return Outcome(None, 0, int(first or 0), "model_limit", impossible=first is None)
    offer_swapped(every, found)
    follower = _within(core.least(found, found.best.choice), known)
    proven = follower == inf if found.second is None else found.second.judged <= follower
    best, least = found.best, int(min(_within(first, known), found.best.judged))
    method: Method = "model" if least == best.judged else "model_limit"
    return Outcome(best.choice, best.judged, least, method, found.second, proven)


def _within(least: float | None, known: float) -> float:
    return known if least is None else min(least, known)
