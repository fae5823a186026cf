"""What goes into which room: each material by room, and the packs that several rooms share."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import floor

from service.pricing.model import Line
from service.quoting.needs import exact
from service.takeoff.answer import Material, RoomShare, Takeoff

STEP = Decimal("0.001")
"""Quantities of a pick list are told to a thousandth of their unit, those of a material adding up to it."""


@dataclass(frozen=True, slots=True)
class Packs:
    """Whole packs of one size, as bought for every room that the product serves."""

    product: str
    description: str
    packs: int
    pack_size: Decimal
    unit: str


@dataclass(frozen=True, slots=True)
class Pick:
    """What of one material one room takes; `shared_with` names the other rooms of the same packs.

    Below zero only for the whole job: what offcuts of one room spare in another.
    """

    role: str
    description: str
    quantity: Decimal
    unit: str
    packs: tuple[Packs, ...]
    shared_with: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RoomPicks:
    """What one room takes, in the order of building; room None is the whole job: spares and savings."""

    room: str | None
    items: tuple[Pick, ...]


def pick_list(takeoff: Takeoff, lines: Sequence[Line]) -> tuple[RoomPicks, ...]:
    """Picks of each room in the job's order, then those of the whole job where there are any."""
    names = [*dict.fromkeys(room.name for room in takeoff.job.rooms), ""]
    by_room: dict[str, list[Pick]] = {name: [] for name in names}
    for place, material in enumerate(takeoff.materials):
        bought = [line for line in lines if place in line.needs]
        rooms = _rooms(takeoff.materials, place, bought)
        for share, quantity in zip(material.shares, in_steps(material.shares), strict=True):
            others = tuple(name for name in rooms if name != share.room)
            by_room[share.room].append(_pick(material, quantity, bought, others))
    return tuple(RoomPicks(name or None, tuple(by_room[name])) for name in names if name or by_room[name])


def in_steps(shares: Sequence[RoomShare]) -> list[Decimal]:
    """The shares in whole steps, which add up to their sum in whole steps (largest remainders)."""
    ideal = [Fraction(exact(share.quantity)) / Fraction(STEP) for share in shares]
    counts = [floor(value) for value in ideal]
    left = round(sum(ideal)) - sum(counts)
    for i in sorted(range(len(ideal)), key=lambda i: counts[i] - ideal[i])[:left]:
        counts[i] += 1
    return [count * STEP for count in counts]


def _rooms(materials: Sequence[Material], place: int, bought: Iterable[Line]) -> list[str]:
    """All rooms that the packs of a material serve, its own where nothing is bought."""
    places = dict.fromkeys([place, *(need for line in bought for need in line.needs)])
    named = (share.room for each in places for share in materials[each].shares)
    return [room for room in dict.fromkeys(named) if room]


def _pick(material: Material, quantity: Decimal, bought: Sequence[Line], others: tuple[str, ...]) -> Pick:
    words = material.role.replace("_", " ")
    return Pick(
        role=material.role,
        description=bought[0].description if bought else words,
        quantity=quantity,
        unit=material.unit,
        packs=tuple(_packs(line) for line in bought if line.packs),
        shared_with=others if bought else (),
    )


def _packs(line: Line) -> Packs:
    size = line.pack_size or Decimal(0)
    return Packs(line.product or "", line.description, line.packs or 0, size, line.unit)
