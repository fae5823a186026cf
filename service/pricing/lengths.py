"""Lengths to be cut, of all needs of one product, and what they cost by their length alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from math import floor

from service.cutting.runs import CutLengths, runs_of, together
from service.pricing.model import Need, Offer

MM_PER_M = 1000.0


def same_cutting(need: Need) -> CutLengths | None:
    """What needs must have alike, so that their lengths may be put together."""
    return need.lengths and replace(need.lengths, runs=(), narrow=())


def lengths_of(needs: Sequence[Need]) -> CutLengths | None:
    """The lengths of several needs of one product; a quantity without lengths among them is one run."""
    known = [need.lengths for need in needs if need.lengths is not None]
    if not known:
        return None
    plain = [need.quantity for need in needs if need.lengths is None]
    runs = runs_of(length_of(quantity, known[0]) for quantity in plain)
    return together([*known, replace(known[0], runs=runs, narrow=())])


def length_of(quantity: Decimal, lengths: CutLengths) -> float:
    """A quantity in m as it is, one in m2 over the width of its roll [mm]."""
    width_m = 1.0 if lengths.width_mm is None else lengths.width_mm / MM_PER_M
    return float(quantity) * MM_PER_M / width_m


def least_by_length(lengths: CutLengths, offers: Sequence[Offer]) -> Decimal:
    """What all runs cost at the least price of a length, whatever is left over; rounded down."""
    offered = [(length_of(offer.pack_size, lengths), offer) for offer in offers]
    cheapest = min(float(level.price) / size for size, offer in offered for level in offer.breaks)
    return floored(total_length(lengths) * cheapest)


def total_length(lengths: CutLengths) -> float:
    """All runs [mm], narrow ones by the part of the roll's width that they take up."""
    total = sum(run * count for run, count in lengths.runs)
    return total + sum(run * width * n / (lengths.width_mm or width) for run, width, n in lengths.narrow)


def floored(cost: float) -> Decimal:
    return Decimal(floor(cost * 100)) / 100
