"""Materials of all rooms added up, so that packs are rounded once for the job."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from math import fsum

from service.cutting.runs import CutLengths, together
from service.takeoff.answer import Material, Reason, RoomShare, Sticks
from service.takeoff.room import Room
from service.takeoff.sticks import roll_area_m2

TOGETHER = "narrow strips of several rooms, ripped side by side from one width of the roll"
NOISE_M2 = 1e-6

Key = tuple[object, ...]


def merged(materials: Iterable[Material]) -> tuple[Material, ...]:
    """Materials alike in role, unit, fitness, product and system added up, in order of their first room."""
    alike: dict[Key, list[Material]] = {}
    for material in materials:
        alike.setdefault(key_of(material), []).append(material)
    return tuple(_added(same) for same in alike.values())


def owned(material: Material, room: Room) -> Material:
    """The material as the room's own: by its name, and of the product that the office chose for the role."""
    reasons = tuple(Reason(f"{room.name}: {reason.text}", reason.quantity) for reason in material.reasons)
    chosen = room.chosen(material.role) or material.product
    return replace(material, reasons=reasons, rooms=(room.name,), product=chosen)


def key_of(material: Material) -> Key:
    """What materials that are bought as one have alike."""
    return (material.role, material.unit, material.fitness, material.product, material.one_system)


def _added(same: list[Material]) -> Material:
    known = [material.lengths for material in same if material.lengths]
    lengths = together(known) if known else None
    shared = _ripped_together(same, lengths) if len(same) > 1 else ()
    shares = (*shares_of(same), *(RoomShare("", reason.quantity) for reason in shared))
    return replace(
        same[0],
        required=fsum(material.required for material in same),
        with_allowance=fsum(share.quantity for share in shares),
        by_room=shares,
        reasons=(*(reason for material in same for reason in material.reasons), *shared),
        rooms=tuple(dict.fromkeys(room for material in same for room in material.rooms)),
        lengths=lengths,
        sticks=_room_by_room([material.sticks for material in same if material.sticks]),
    )


def _room_by_room(sticks: Sequence[Sticks]) -> Sticks | None:
    """Each room's sticks added up."""
    if not sticks:
        return None
    methods = ", ".join(dict.fromkeys(each.method for each in sticks))
    count, bound = (
        sum(figures) for figures in zip(*((each.count, each.bound) for each in sticks), strict=True)
    )
    return Sticks(sticks[0].length_mm, count, bound, methods)


def _ripped_together(same: Sequence[Material], lengths: CutLengths | None) -> tuple[Reason, ...]:
    """What is saved where narrow strips of several rooms come out of one width of the roll."""
    if lengths is None or not lengths.narrow:
        return ()
    longest = max(length for length, *_ in (*lengths.runs, *lengths.narrow))
    saved = roll_area_m2(lengths, longest) - fsum(material.with_allowance for material in same)
    return (Reason(TOGETHER, saved),) if saved < -NOISE_M2 else ()


def shares_of(materials: Iterable[Material]) -> tuple[RoomShare, ...]:
    """What of these materials goes into each room, in the order of first mention; what saves or adds for
    several rooms at once is the whole job's and comes last."""
    by_room: dict[str, list[float]] = {}
    for share in (share for material in materials for share in material.shares):
        by_room.setdefault(share.room, []).append(share.quantity)
    shares = [RoomShare(room, fsum(quantities)) for room, quantities in by_room.items()]
    return tuple(sorted(shares, key=lambda share: share.room == ""))
