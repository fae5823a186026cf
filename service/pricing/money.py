"""Rounding to minor units, and sharing an amount out without losing one of them."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from math import lcm

from service.pricing.model import Rounding

HALF = Fraction(1, 2)


def to_step(value: Decimal | Fraction, step: Decimal, rounding: Rounding) -> Decimal:
    """`value` to the nearest multiple of `step`; halves go away from zero or to the even multiple."""
    exact = Fraction(value) / Fraction(step)
    whole, rest = divmod(abs(exact), 1)
    up_at_half = rounding.method == "half_up" or whole % 2 == 1
    nearest = whole + (rest > HALF or (rest == HALF and up_at_half))
    return step * (-nearest if exact < 0 else nearest)


def to_minor(value: Decimal | Fraction, rounding: Rounding) -> Decimal:
    """`value` in whole minor units of the currency."""
    return to_step(value, minor_unit(rounding), rounding)


def minor_unit(rounding: Rounding) -> Decimal:
    return Decimal(1).scaleb(-rounding.minor)


def as_part(percent: Decimal) -> Fraction:
    """12.5 percent as an eighth."""
    return Fraction(percent) / 100


def percent_of(value: Decimal, percent: Decimal) -> Fraction:
    return Fraction(value) * as_part(percent)


def parts_of(values: Sequence[Decimal], rate: Fraction, rounding: Rounding) -> list[Decimal]:
    """`rate` times each of `values` (not negative), in whole minor units.

    By the rule of the terms each is rounded by itself, or their sum is rounded once and shared out to them.
    """
    if rounding.per == "line":
        return [to_minor(Fraction(value) * rate, rounding) for value in values]
    whole = to_minor(Fraction(sum(values, Decimal(0))) * rate, rounding)
    return apportion(whole, values, minor_unit(rounding))


def apportion(total: Decimal, weights: Sequence[Decimal], unit: Decimal) -> list[Decimal]:
    """Share `total` (whole units) out in proportion to `weights` (not negative) by largest remainders.

    The shares are whole units and add up to `total` exactly; equal remainders are served in order. With no
    weight at all the first takes everything.
    """
    if not any(weights):
        weights = [Decimal(1), *weights[1:]][: len(weights)]
    units, scaled = int(total / unit), in_whole_parts(weights)[1]
    whole = sum(scaled)
    shares = [units * weight // whole for weight in scaled]
    by_remainder = sorted(range(len(scaled)), key=lambda i: -(units * scaled[i] % whole))
    for i in by_remainder[: units - sum(shares)]:
        shares[i] += 1
    return [share * unit for share in shares]


def in_whole_parts(values: Sequence[Decimal]) -> tuple[int, list[int]]:
    """The parts of one of which all values are whole numbers, and the numbers: sooner reckoned with than
    fractions."""
    ratios = [value.as_integer_ratio() for value in values]
    parts = lcm(*(below for _, below in ratios))
    return parts, [above * (parts // below) for above, below in ratios]
