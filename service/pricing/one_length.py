"""Runs all of one length: so many go into each stick or roll, and the rest is counting packs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from service.cutting.runs import CutLengths
from service.cutting.steps import down, up
from service.pricing.commercial import Rounding
from service.pricing.model import Offer
from service.pricing.packs import Mix, goods_cost, pack_mix


def of_one_length(lengths: CutLengths, sizes: Sequence[float], offers: Sequence[Offer]) -> Mix | None:
    """The cheapest packs, of `sizes` [mm], by any price breaks; None where lengths differ, two narrow strips
    may lie side by side, or a run is longer than every pack."""
    found = {down(length) for length, *_ in (*lengths.runs, *lengths.narrow)}
    if len(found) != 1 or _beside(lengths):
        return None
    (length,), saw = found, down(lengths.kerf_mm)
    gives = [(up(size) + saw) // (length + saw) for size in sizes]
    holding = [number for number, pieces in enumerate(gives) if pieces]
    if not holding:
        return None
    pieces = sum(count for *_, count in (*lengths.runs, *lengths.narrow))
    packs = [replace(offers[number], pack_size=Decimal(gives[number])) for number in holding]
    mix = pack_mix(Decimal(pieces), packs, rounding=Rounding(minor=_decimals(offers)))
    return _among(offers, dict(zip(holding, mix.counts, strict=True)))


def _beside(lengths: CutLengths) -> bool:
    """Whether two of the narrow strips fit side by side."""
    narrow = sorted(width for _, width, count in lengths.narrow for _ in range(min(2, count)))
    return len(narrow) > 1 and narrow[0] + narrow[1] <= (lengths.width_mm or 0.0)


def _decimals(offers: Sequence[Offer]) -> int:
    """Of the prices, so that nothing is rounded."""
    exponents = (level.price.as_tuple().exponent for offer in offers for level in offer.breaks)
    return max(0, *(-exponent for exponent in exponents if isinstance(exponent, int)))


def _among(offers: Sequence[Offer], packs: dict[int, int]) -> Mix:
    counts = tuple(packs.get(number, 0) for number in range(len(offers)))
    return Mix(counts, goods_cost(offers, counts))
