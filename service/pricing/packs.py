"""The cheapest whole packs that cover a need, out of one supplier's pack sizes of one product."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Decimal
from fractions import Fraction
from itertools import accumulate
from math import gcd

from service.pricing.model import Offer, Rounding
from service.pricing.money import in_whole_parts

TOLERANCE = Fraction(1, 10**9)
"""How much of a unit may be left uncovered: noise of binary arithmetic in the quantity, never a pack."""

NOTHING = Decimal(0)

_MODES = {"half_up": ROUND_HALF_UP, "half_even": ROUND_HALF_EVEN}
_Found = tuple[int, int, tuple[int, ...]]
"""Cost, packs, counts negated: the least is the cheapest, then the fewest, then the largest packs."""


@dataclass(frozen=True, slots=True)
class Mix:
    """How many packs of each offer, in the order the offers were given, and what they cost together."""

    counts: tuple[int, ...]
    cost: Decimal


@dataclass(frozen=True, slots=True)
class Extras:
    """What packs cost beside their price: freight of a unit; the surcharge for each split size bought."""

    freight: Decimal = NOTHING
    surcharge: Decimal = NOTHING


PLAIN, NO_EXTRAS = Rounding(), Extras()


@dataclass(frozen=True, slots=True)
class _Pack:
    """An offer in whole numbers: its size in common units, its breaks as (from packs, price), last first,
    prices and freight as numerators of their parts of a minor unit."""

    size: int
    breaks: tuple[tuple[int, int], ...]
    part: int
    freight: int
    freight_part: int
    surcharge: int
    even: bool

    def cost(self, packs: int) -> int:
        """In minor units: the packs' price and their freight, each rounded as its line is, and surcharge."""
        if not packs:
            return 0
        cost = self.surcharge + _rounded(packs * self.price(packs), self.part, self.even)
        return cost + _rounded(packs * self.freight, self.freight_part, self.even) if self.freight else cost

    def price(self, packs: int) -> int:
        for start, price in self.breaks:
            if start <= packs:
                return price
        raise ValueError(packs)

    def enough(self, need: int) -> list[int]:
        """The counts worth a look when this pack alone covers the need: just enough, or a later break."""
        full = -(-need // self.size)
        return [full, *(start for start, _ in reversed(self.breaks) if start > full)]

    def least(self) -> tuple[int, int]:
        """The least that a unit costs before rounding, as a fraction."""
        price = min(price for _, price in self.breaks)
        numerator = price * self.freight_part + self.freight * self.part
        return numerator, self.part * self.freight_part * self.size


def in_minor(value: Decimal, rounding: Rounding) -> int:
    """`value` in whole minor units of the currency, rounded as the terms say."""
    return int(value.scaleb(rounding.minor).to_integral_value(_MODES[rounding.method]))


def pack_price(offer: Offer, packs: int) -> Decimal:
    """The price of one pack when `packs` of this size are ordered."""
    return next(b.price for b in reversed(offer.breaks) if b.min_packs <= packs)


class PackMixes:
    """One supplier's pack sizes of one product, asked for any number of quantities; equal ones found once."""

    def __init__(
        self, offers: Sequence[Offer], extras: Extras = NO_EXTRAS, rounding: Rounding = PLAIN
    ) -> None:
        """Every offer's first break must begin at one pack (ValueError)."""
        if any(offer.breaks[0].min_packs != 1 for offer in offers):
            raise ValueError("the first price break of an offer must begin at one pack")
        self._order = sorted(range(len(offers)), key=lambda i: -offers[i].pack_size)
        self._parts, sizes = in_whole_parts([offers[i].pack_size for i in self._order])
        self._unit = gcd(*sizes) or 1
        of_order = zip(self._order, sizes, strict=True)
        self._search = _Search(
            [_pack(offers[i], size // self._unit, extras, rounding) for i, size in of_order]
        )
        self._minor = rounding.minor

    def of(self, quantity: Decimal) -> Mix:
        """The cheapest mix of packs holding at least `quantity` (less TOLERANCE), exactly.

        Dynamic programming over the rest still to cover, counted in the common divisor of the pack sizes,
        one pack size after the other from the largest down. The cost is that of the lines, each in whole
        minor units. Ties go to fewer packs, then to larger ones.
        """
        cost, _, negated = self._search.best(0, _units(quantity, self._parts, self._unit))
        counts = dict(zip(self._order, negated, strict=True))
        return Mix(tuple(-counts[i] for i in range(len(counts))), Decimal(cost).scaleb(-self._minor))


def pack_mix(
    quantity: Decimal, offers: Sequence[Offer], extras: Extras = NO_EXTRAS, rounding: Rounding = PLAIN
) -> Mix:
    """The cheapest mix for one quantity, as `PackMixes.of`."""
    return PackMixes(offers, extras, rounding).of(quantity)


def goods_cost(offers: Sequence[Offer], counts: Sequence[int]) -> Decimal:
    """What so many packs of each offer cost, at the break that each count reaches."""
    bought = zip(offers, counts, strict=True)
    return sum((n * pack_price(offer, n) for offer, n in bought if n), Decimal(0))


def _units(quantity: Decimal, parts: int, unit: int) -> int:
    """The quantity in units of `unit` parts of one, rounded up, less the tolerance."""
    above, below = quantity.as_integer_ratio()
    needed = (above * TOLERANCE.denominator - below) * parts
    return max(-(-needed // (below * TOLERANCE.denominator * unit)), 0)


def _pack(offer: Offer, size: int, extras: Extras, rounding: Rounding) -> _Pack:
    minor = 10**rounding.minor
    part, prices = in_whole_parts([b.price for b in offer.breaks])
    freight, freight_part = (
        (extras.freight * offer.pack_size).as_integer_ratio() if extras.freight else (0, 1)
    )
    common = gcd(minor, part)
    starts = [b.min_packs for b in offer.breaks]
    return _Pack(
        size=size,
        breaks=tuple((start, price * (minor // common)) for start, price in zip(starts, prices, strict=True))[
            ::-1
        ],
        part=part // common,
        freight=freight * minor,
        freight_part=freight_part,
        surcharge=in_minor(extras.surcharge, rounding) if offer.split else 0,
        even=rounding.method == "half_even",
    )


def _rounded(value: int, part: int, even: bool) -> int:
    """A value counted in `part`-ths as the nearest whole number; a half goes up, or to the even one."""
    if part == 1:
        return value
    whole, rest = divmod(value, part)
    return whole + (2 * rest > part or (2 * rest == part and (not even or whole % 2 == 1)))


def _lesser(one: tuple[int, int], other: tuple[int, int]) -> tuple[int, int]:
    """The lesser of two fractions."""
    return one if one[0] * other[1] <= other[0] * one[1] else other


class _Search:
    """The best mix for what is left to cover with the packs from the k-th on, each found once."""

    def __init__(self, packs: Sequence[_Pack]) -> None:
        self._packs = packs
        least = [pack.least() for pack in packs]
        self._least = list(accumulate(reversed(least), _lesser))[::-1]
        exact = all(pack.part == pack.freight_part == 1 for pack in packs)
        self._noise = [0 if exact else len(packs) - k for k in range(len(packs))]
        self._known: list[dict[int, _Found]] = [{} for _ in packs]

    def best(self, k: int, rest: int) -> _Found:
        if rest <= 0:
            return 0, 0, (0,) * (len(self._packs) - k)
        if rest not in self._known[k]:
            last = k == len(self._packs) - 1
            self._known[k][rest] = self._alone(rest) if last else self._split(k, rest)
        return self._known[k][rest]

    def _alone(self, rest: int) -> _Found:
        pack = self._packs[-1]
        return min((pack.cost(n), n, (-n,)) for n in pack.enough(rest))

    def _split(self, k: int, rest: int) -> _Found:
        """Try every count of pack k, the most promising first, until none left can be as cheap."""
        pack = self._packs[k]
        full, *later = pack.enough(rest)
        found: _Found | None = None
        for bound, negated, cost in sorted(self._bounded(k, [*range(full + 1), *later], rest)):
            if found and bound > found[0]:
                break
            below, count, tail = self.best(k + 1, rest + negated * pack.size)
            tried = (below + cost, count - negated, (negated, *tail))
            found = min(found, tried) if found else tried
        assert found is not None  # noqa: S101  (count 0 is always tried)
        return found

    def _bounded(self, k: int, counts: Sequence[int], rest: int) -> Iterator[tuple[int, int, int]]:
        """What the need must cost with each count of pack k, the rest at the best price per unit left.

        Rounding can lower the amount and the freight of each further size by half a minor unit.
        """
        pack, (above, below), noise = self._packs[k], self._least[k + 1], self._noise[k + 1]
        for count in counts:
            cost = pack.cost(count)
            left = rest - count * pack.size
            least = -(-left * above // below) - noise if left > 0 else 0
            yield cost + least, -count, cost
