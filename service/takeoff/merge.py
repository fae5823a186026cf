"""Materials of all rooms added up, so that packs are rounded once for the job."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace
from math import fsum

from service.cutting.runs import CutLengths
from service.takeoff.answer import Material, Reason
from service.takeoff.room import Room

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
    return replace(
        same[0],
        required=fsum(material.required for material in same),
        with_allowance=fsum(material.with_allowance for material in same),
        reasons=tuple(reason for material in same for reason in material.reasons),
        rooms=tuple(dict.fromkeys(room for material in same for room in material.rooms)),
        lengths=_together([material.lengths for material in same if material.lengths]),
    )


def _together(same: Sequence[CutLengths]) -> CutLengths | None:
    """All runs to be cut from one product, longest first."""
    if not same:
        return None
    runs: Counter[float] = Counter()
    for lengths in same:
        runs.update(dict(lengths.runs))
    return replace(same[0], runs=tuple(sorted(runs.items(), reverse=True)))
