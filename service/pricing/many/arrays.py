"""Exact arithmetic over arrays of 64-bit integers: rounding fractions, and sharing out in segments."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
MOST = 2**62


class TooLarge(ArithmeticError):
    """Figures so large that a product would leave 64 bits; they are to be reckoned one by one."""


def times(values: Ints, factors: Ints) -> Ints:
    """Products that are known to fit."""
    largest = int(np.abs(values).max(initial=0)) * int(np.abs(factors).max(initial=0))
    if largest >= MOST:
        raise TooLarge
    return values * factors


def nearest(numerators: Ints, denominators: Ints, even: bool) -> Ints:
    """Fractions to the nearest whole number; halves go away from zero or to the even one."""
    whole, rest = np.divmod(np.abs(numerators), denominators)
    twice = times(rest, np.array([2]))
    up_at_half = whole % 2 == 1 if even else np.True_
    up = (twice > denominators) | ((twice == denominators) & up_at_half)
    rounded: Ints = np.sign(numerators) * (whole + up)
    return rounded


def part_of(values: Ints, rate: Fraction, even: bool) -> Ints:
    """`rate` times each value, in whole units."""
    return parts_of(values, np.array([rate.numerator]), np.array([rate.denominator]), even)


def parts_of(values: Ints, above: Ints, below: Ints, even: bool) -> Ints:
    """A rate above / below of its own for each value."""
    return nearest(times(values, above), np.broadcast_to(below, values.shape), even)


class Segments:
    """Which of a row of values belong together. Sums and shares keep the order within a segment."""

    def __init__(self, labels: Ints) -> None:
        order = np.argsort(labels, kind="stable")
        ordered = labels[order]
        begins = np.flatnonzero(np.r_[True, ordered[1:] != ordered[:-1]]) if len(labels) else order
        self.labels = ordered[begins]
        self._order, self._begins = order, begins
        self._of = np.repeat(np.arange(len(begins)), np.diff(np.r_[begins, len(labels)]))

    def sums(self, values: Ints) -> Ints:
        """One for each segment."""
        if not len(self._begins):
            return values
        summed: Ints = np.add.reduceat(values[self._order], self._begins)
        return summed

    def shared(self, totals: Ints, weights: Ints) -> Ints:
        """Each segment's total shared out in proportion to weights by largest remainders.

        Equal remainders are served in order; where there is no weight at all the first takes everything.
        """
        weight = weights[self._order].copy()
        idle = self.sums(weights) == 0
        weight[self._begins[idle]] = 1
        whole = np.add.reduceat(weight, self._begins) if len(weight) else weight
        share = times(totals[self._of], weight)
        part, rest = np.divmod(share, whole[self._of])
        left = totals - (np.add.reduceat(part, self._begins) if len(part) else part)
        by_rest = np.lexsort((-rest, self._of))
        rank = np.arange(len(part)) - self._begins[self._of]
        part[by_rest] += rank < left[self._of]
        shares = np.empty_like(part)
        shares[self._order] = part
        return shares
