"""Sets that must not be larger than what they go into, as a heating cable that is never cut."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from math import gcd

from service.pricing.model import Offer
from service.pricing.money import in_whole_parts
from service.pricing.packs import NO_EXTRAS, TOLERANCE, Extras, Mix, goods_cost, pack_price

_Filling = tuple[int, Decimal, tuple[int, ...]]
"""Packs, cost, and how many of each offer."""


def set_mix(limits: Sequence[Decimal], offers: Sequence[Offer], extras: Extras = NO_EXTRAS) -> Mix:
    """For each limit the packs that fill it best without exceeding it; of those that fill it alike the
    fewest, since each is a cable that is laid, tested and connected, then the cheapest at the prices of
    single packs."""
    parts, sizes = in_whole_parts([offer.pack_size for offer in offers])
    unit = gcd(*sizes)
    most = [int((Fraction(limit) + TOLERANCE) * parts / unit) for limit in limits]
    prices = [pack_price(offer, 1) + offer.pack_size * extras.freight for offer in offers]
    fillings = _fillings([size // unit for size in sizes], prices, max(most))
    chosen = [next(counts for counts in fillings[limit::-1] if counts is not None)[2] for limit in most]
    counts = tuple(map(sum, zip(*chosen, strict=True)))
    return Mix(counts, goods_cost(offers, counts))


def _fillings(sizes: Sequence[int], prices: Sequence[Decimal], most: int) -> list[_Filling | None]:
    """The fewest and cheapest packs that come to each number of units exactly; None where none do."""
    found: list[_Filling | None] = [(0, Decimal(0), (0,) * len(sizes))]
    for total in range(1, most + 1):
        ways = (
            _one_more(before, n, price)
            for n, (size, price) in enumerate(zip(sizes, prices, strict=True))
            if size <= total and (before := found[total - size]) is not None
        )
        found.append(min(ways, default=None))
    return found


def _one_more(filling: _Filling, number: int, price: Decimal) -> _Filling:
    packs, cost, counts = filling
    return packs + 1, cost + price, tuple(count + (n == number) for n, count in enumerate(counts))
