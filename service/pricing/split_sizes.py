"""Sticks or rolls of which some sizes come out of an opened larger pack, for a surcharge paid once a size."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from itertools import combinations

from service.cutting.runs import CutLengths
from service.pricing.cut_to_length import cut_mix
from service.pricing.lengths import least_by_length
from service.pricing.model import Cutting, Offer
from service.pricing.packs import Mix

MOST_SPLIT = 3
"""Split sizes of one product beyond which only none, one and all of them are tried."""

Found = tuple[Mix, Cutting]


def cut_with_split(lengths: CutLengths, offers: Sequence[Offer], surcharge: Decimal) -> Found:
    """The cheapest packs from which all runs can be cut, with the surcharge for each split size bought.

    Each choice of split sizes is cut from alone, since opening one is paid whatever is taken of it; the bound
    is the least of theirs.
    """
    if not surcharge or not any(offer.split for offer in offers):
        return cut_mix(lengths, offers)
    found: list[Found] = []
    bounds = [surcharge + least_by_length(lengths, offers)] if _too_many(offers) else []
    for used in _openings(offers):
        own = [offers[number] for number in used]
        opened = surcharge * _split(own)
        if all(opened + least_by_length(lengths, own) < mix.cost for mix, _ in found):
            mix, cutting = cut_mix(lengths, own)
            bounds.append(opened + cutting.bound)
            found.append((_among(offers, used, mix, surcharge), cutting))
    mix, cutting = min(found, key=lambda one: (one[0].cost, sum(one[0].counts)))
    bound = min(mix.cost, *bounds)
    return mix, replace(cutting, cost=mix.cost, bound=bound, gap=mix.cost - bound)


def _split(offers: Sequence[Offer]) -> int:
    return sum(offer.split for offer in offers)


def _too_many(offers: Sequence[Offer]) -> bool:
    return _split(offers) > MOST_SPLIT


def _openings(offers: Sequence[Offer]) -> list[tuple[int, ...]]:
    """Which offers may be used: all whole ones with some of the split ones, few first."""
    split = [number for number, offer in enumerate(offers) if offer.split]
    whole = [number for number, offer in enumerate(offers) if not offer.split]
    counts = (0, 1, len(split)) if _too_many(offers) else range(len(split) + 1)
    chosen = (some for count in counts for some in combinations(split, count))
    return [tuple(sorted([*whole, *some])) for some in chosen if whole or some]


def _among(offers: Sequence[Offer], used: Sequence[int], mix: Mix, surcharge: Decimal) -> Mix:
    """A mix of some of the offers as one of all, with the surcharge for those that it opens."""
    packs = dict(zip(used, mix.counts, strict=True))
    counts = tuple(packs.get(number, 0) for number in range(len(offers)))
    opened = [offer for offer, count in zip(offers, counts, strict=True) if count]
    return Mix(counts, mix.cost + surcharge * _split(opened))
