"""The cheapest whole packs that cover a need, out of one supplier's pack sizes of one product."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import cache
from math import gcd, lcm

from service.pricing.model import Offer

TOLERANCE = Fraction(1, 10**9)
"""How much of a unit may be left uncovered: noise of binary arithmetic in the quantity, never a pack."""

_Found = tuple[int, int, tuple[int, ...]]
"""Cost, packs, counts negated: the least is the cheapest, then the fewest, then the largest packs."""


@dataclass(frozen=True, slots=True)
class Mix:
    """How many packs of each offer, in the order the offers were given, and what they cost together."""

    counts: tuple[int, ...]
    cost: Decimal


@dataclass(frozen=True, slots=True)
class _Pack:
    """An offer in whole numbers: its size in common units, its breaks as (from packs, price)."""

    size: int
    breaks: tuple[tuple[int, int], ...]

    def cost(self, packs: int) -> int:
        reached = (price for start, price in reversed(self.breaks) if start <= packs)
        return packs * next(reached, 0)  # no pack reaches no break

    def enough(self, need: int) -> list[int]:
        """The counts worth a look when this pack alone covers the need: just enough, or a later break."""
        full = -(-need // self.size)
        return [full, *(start for start, _ in self.breaks if start > full)]

    def least_per_unit(self) -> Fraction:
        return Fraction(min(price for _, price in self.breaks), self.size)


def pack_price(offer: Offer, packs: int) -> Decimal:
    """The price of one pack when `packs` of this size are ordered."""
    return next(b.price for b in reversed(offer.breaks) if b.min_packs <= packs)


def pack_mix(quantity: Decimal, offers: Sequence[Offer]) -> Mix:
    """The cheapest mix of packs holding at least `quantity` (less TOLERANCE), exactly.

    Dynamic programming over the rest still to cover, counted in the common divisor of the pack sizes,
    one pack size after the other from the largest down. Ties go to fewer packs, then to larger ones.
    Every offer's first break must begin at one pack (ValueError).
    """
    if any(offer.breaks[0].min_packs != 1 for offer in offers):
        raise ValueError("the first price break of an offer must begin at one pack")
    order = sorted(range(len(offers)), key=lambda i: -offers[i].pack_size)
    unit, sizes = _whole([offers[i].pack_size for i in order])
    money, prices = _whole([b.price for i in order for b in offers[i].breaks])
    remaining = iter(prices)
    packs = [
        _Pack(size, tuple((b.min_packs, next(remaining)) for b in offers[i].breaks))
        for i, size in zip(order, sizes, strict=True)
    ]
    need = -((TOLERANCE - Fraction(quantity)) // unit)
    cost, _, negated = _search(packs, max(need, 0))
    counts = dict(zip(order, negated, strict=True))
    return Mix(tuple(-counts[i] for i in range(len(offers))), _decimal(cost * money))


def _whole(values: Sequence[Decimal]) -> tuple[Fraction, list[int]]:
    """The largest unit of which all values are whole multiples, and the multiples."""
    exact = [Fraction(value) for value in values]
    scale = lcm(*(value.denominator for value in exact))
    ints = [int(value * scale) for value in exact]
    divisor = gcd(*ints) or 1
    return Fraction(divisor, scale), [value // divisor for value in ints]


def _decimal(value: Fraction) -> Decimal:
    """Exact, as the value is a sum of decimal prices."""
    return Decimal(value.numerator) / Decimal(value.denominator)


def _search(packs: Sequence[_Pack], need: int) -> _Found:
    bounds = [min(pack.least_per_unit() for pack in packs[k:]) for k in range(len(packs))]
    last = len(packs) - 1

    @cache
    def best(k: int, rest: int) -> _Found:
        if rest <= 0:
            return 0, 0, (0,) * (len(packs) - k)
        if k == last:
            return min((packs[k].cost(n), n, (-n,)) for n in packs[k].enough(rest))
        return split(k, rest)

    def split(k: int, rest: int) -> _Found:
        """Try every count of pack k, the most promising first, until none left can be as cheap."""
        pack = packs[k]
        full, *later = pack.enough(rest)
        bounded = sorted((_at_least(pack, n, rest, bounds[k + 1]), -n) for n in (*range(full + 1), *later))
        found: _Found | None = None
        for bound, negated in bounded:
            if found and bound > found[0]:
                break
            cost, count, tail = best(k + 1, rest + negated * pack.size)
            tried = (cost + pack.cost(-negated), count - negated, (negated, *tail))
            found = min(found, tried) if found else tried
        assert found is not None  # noqa: S101  (count 0 is always tried)
        return found

    return best(0, need)


def _at_least(pack: _Pack, count: int, rest: int, per_unit: Fraction) -> int:
    """What the need must cost with `count` of this pack: the rest at the best price per unit left."""
    left = max(rest - count * pack.size, 0)
    return pack.cost(count) - (-left * per_unit.numerator // per_unit.denominator)
