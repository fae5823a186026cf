"""Lengths and costs in whole numbers."""

from __future__ import annotations

from collections.abc import Iterable
from math import ceil, floor, gcd

STEPS_PER_MM = 100
"""Lengths are reckoned in hundredths of a millimetre: pieces and kerf rounded down, stock rounded up, so
that nothing that fits is lost. A plan overruns a stick by less than 0.01 mm for each piece, each cut and
the stick itself."""

STEPS_PER_COST = 10_000
"""Costs are reckoned to four decimals."""

_NOISE = 1e-6  # of a step: the noise of lengths converted to floats


def down(length: float) -> int:
    """A piece [mm] in steps."""
    return floor(length * STEPS_PER_MM + _NOISE)


def up(length: float) -> int:
    """A stock [mm] in steps."""
    return ceil(length * STEPS_PER_MM - _NOISE)


def whole_costs(costs: Iterable[float]) -> tuple[int, tuple[int, ...]]:
    """The largest unit of which all costs are whole multiples, and the multiples."""
    known = [round(cost * STEPS_PER_COST) for cost in costs]
    unit = gcd(*known) or 1
    return unit, tuple(cost // unit for cost in known)


def units(cost: float | None, unit: int) -> int | None:
    """A cost in whole units, rounded up."""
    return None if cost is None else ceil(cost * STEPS_PER_COST / unit - _NOISE)
