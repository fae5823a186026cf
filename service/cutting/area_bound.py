"""What no layout of strips in rolls can cost less than, however they are cut.

Weights for widths, such that no strips side by side weigh more than one, and prices for lengths, such that
no lengths of one roll are dearer than the roll: the strips' weights times prices are a bound (S. P. Fekete
and J. Schepers, Mathematical Methods of Operations Research 60, 2004). The best of either, the other given,
are prices of a one-dimensional relaxation; they are found in turn (A. Caprara and M. Monaci, Mathematical
Programming 118, 2009).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from math import ceil

from service.cutting.bounds import cover, payable
from service.cutting.effort import Effort
from service.cutting.problem import Problem, Stick
from service.cutting.relaxation import Dual, Relaxation, relax, weigh
from service.cutting.sections import Strip

TURNS = 3
GRAIN = 10_000
"""Strips of one length count this many times over, so that parts of a strip are whole numbers."""

Prices = dict[int, Fraction]
"""By width, or by length."""


def area_bound(strips: Sequence[Strip], width: int, rolls: Problem, effort: Effort) -> int:
    """The bound in units of `rolls`' costs, of which only the stocks are looked at."""
    area = sum(strip.length * strip.width for strip in strips)
    return max(cover(-(-area // width), rolls.capacities, rolls), _weighed(strips, width, rolls, effort))


def _weighed(strips: Sequence[Strip], width: int, rolls: Problem, effort: Effort) -> int:
    """By weights and prices, which start from the strips' area."""
    longest, best, whole = max(strip.length for strip in strips), Fraction(0), 0
    prices = {strip.length: Fraction(strip.length, longest) for strip in strips}
    for _ in range(TURNS):
        weights = _weights(strips, prices, width, effort)
        problem, relaxed = _priced(strips, weights, rolls, effort)
        bound, prices = relaxed.dual.bound(problem) / GRAIN, _by_size(problem, relaxed.dual)
        if bound <= best:
            break
        best = bound
        payable_ = payable(ceil(bound), rolls)
        whole = max(whole, payable_, weigh(problem, relaxed, effort).bound(rolls, GRAIN))
    return whole


def _weights(strips: Sequence[Strip], prices: Prices, width: int, effort: Effort) -> Prices:
    counts: dict[int, Fraction] = defaultdict(Fraction)
    for strip in strips:
        counts[strip.width] += prices[strip.length]
    top = max(counts.values()) or Fraction(1)
    one = Problem((), (), (width,), (1,), (None,))
    problem, relaxed = _relaxed({size: count / top for size, count in counts.items()}, one, effort)
    return _by_size(problem, relaxed.dual)


def _priced(
    strips: Sequence[Strip], weights: Prices, rolls: Problem, effort: Effort
) -> tuple[Problem, Relaxation]:
    counts: dict[int, Fraction] = defaultdict(Fraction)
    for strip in strips:
        counts[strip.length] += weights[strip.width]
    limits = tuple(None if limit is None else limit * GRAIN for limit in rolls.limits)
    return _relaxed(counts, replace(rolls, limits=limits), effort)


def _relaxed(counts: Mapping[int, Fraction], stock: Problem, effort: Effort) -> tuple[Problem, Relaxation]:
    """Counts are rounded down, which keeps the bound a true one."""
    wanted = {size: int(count * GRAIN) for size, count in counts.items()}
    sizes = tuple(sorted((size for size, count in wanted.items() if count), reverse=True))
    problem = replace(stock, sizes=sizes, counts=tuple(wanted[size] for size in sizes))
    if not sizes:
        return problem, Relaxation(Dual((), (0,) * len(stock.costs), 1), (), ())
    return problem, relax(problem, _of_one_size(problem), effort)


def _of_one_size(problem: Problem) -> list[Stick]:
    """For each size the stick without limit that gives most of it for its cost; none if one has none."""
    sticks: list[Stick] = []
    for kind, size in enumerate(problem.sizes):
        offered = enumerate(zip(problem.capacities, problem.costs, problem.limits, strict=True))
        rates = [
            (cost / (c // size), s, c // size)
            for s, (c, cost, limit) in offered
            if limit is None and c >= size
        ]
        if not rates:
            return []
        _, stock, times = min(rates)
        sticks.append((stock, tuple(times * (n == kind) for n in range(len(problem.sizes)))))
    return sticks


def _by_size(problem: Problem, dual: Dual) -> Prices:
    found: Prices = defaultdict(Fraction)
    for size, price in zip(problem.sizes, dual.pieces, strict=True):
        found[size] = Fraction(price, dual.scale)
    return found
