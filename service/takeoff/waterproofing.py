"""Waterproofing of a floor or its wet zones: bands over seams and wall bases, corners, seals, flood test."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil

from service.takeoff.answer import (
    Fitness,
    Layout,
    Material,
    MembraneLayout,
    Reason,
    Step,
    Wait,
    Waterproofing,
    Work,
)
from service.takeoff.geometry import FloorShape
from service.takeoff.room import Room
from service.takeoff.sealed_ground import sealed_ground
from service.takeoff.waterproofing_rules import (
    flood_tested,
    of_kind,
    pondable,
    sealed,
    unsealed,
    upstand_key,
    wide_band_mm,
)
from service.trade.values import TradeValues

NOISE_M = 1e-9
SIDES = 2  # of a corner piece, at each of which a band laps it


@dataclass(frozen=True, slots=True)
class WaterproofingTake:
    answer: Waterproofing | None
    step: Step


def take(
    room: Room, shape: FloorShape, layout: Layout, membrane: MembraneLayout | None, values: TradeValues
) -> WaterproofingTake:
    """Band [m], corner pieces and seals [piece], their work; where the floor can be ponded, the flood test
    and its waits [h]."""
    if not room.waterproof:
        return WaterproofingTake(None, Step(findings=unsealed(room, values)))
    measured = measure(room, shape, membrane, values)
    upstand = values.number(upstand_key(room)) if shape.measures.wall_length_m else None
    answer = replace(measured, upstand_mm=upstand)
    tested = pondable(room, shape, values)
    step = Step(
        materials=_materials(room, answer, values),
        work=(*_work(answer), *([Work("flood_test", "fixed", 1, "test")] if tested else [])),
        findings=(*sealed(room, shape, values), flood_tested(room, tested, values)),
        waits=_waits(values) if tested else (),
    )
    return WaterproofingTake(answer, step)


def measure(
    room: Room, shape: FloorShape, membrane: MembraneLayout | None, values: TradeValues
) -> Waterproofing:
    """Band along seams and wall bases [m]; corners of the walls, and the outside ones of doorway jambs.

    Where only zones are sealed, what of all that lies on their ground.
    """
    if room.sealed_zones_only:
        return sealed_ground(room, shape, values).measure(room, shape, membrane)
    jambs = int(values.number("waterproofing.jamb_corners")) * len(room.doorways)
    seams = membrane.seam_length_m if membrane else 0.0
    return Waterproofing(
        band_length_m=seams + shape.measures.wall_length_m,
        wall_band_m=shape.measures.wall_length_m,
        inside_corners=shape.measures.inside_corners,
        outside_corners=shape.measures.outside_corners + jambs,
        pipe_seals=len(of_kind(room, "pipe")),
        drain_seals=len(of_kind(room, "drain")),
    )


def laps_m(room: Room, length_m: float, corners: int, values: TradeValues) -> tuple[float, float]:
    """Band lost in laps [m]: where a roll ends, and on both sides of each corner piece.

    A seam's band needs no lap of its own at its ends: it runs on to the wall, over the wall band's leg.
    """
    lap = values.number("waterproofing.band_lap") / 1000.0
    roll = room.band_roll or values.number("waterproofing.band_roll_length")
    ends = max(ceil(length_m / roll) - 1, 0)
    return lap * ends, SIDES * lap * corners


def _materials(room: Room, answer: Waterproofing, values: TradeValues) -> tuple[Material, ...]:
    pieces = {
        "inside_corner": (answer.inside_corners, "inside corners of the walls"),
        "outside_corner": (answer.outside_corners, "outside corners and doorway jambs"),
        "pipe_seal": (answer.pipe_seals, "pipes through the floor"),
        "drain_seal": (answer.drain_seals, "drains"),
    }
    counted = (_pieces(room, role, count, why) for role, (count, why) in pieces.items() if count)
    return (*_bands(room, answer, values), *counted)


def _bands(room: Room, answer: Waterproofing, values: TradeValues) -> tuple[Material, ...]:
    """One band for seams and walls, or a wider one along the walls where the upstand wants it."""
    corners, wide = answer.inside_corners + answer.outside_corners, wide_band_mm(room, values)
    if not wide:
        return _band(room, "membrane seams and wall bases", answer.band_length_m, corners, values)
    width = (Fitness("width_mm", at_least=wide),)
    return (
        *_band(room, "membrane seams", answer.band_length_m - answer.wall_band_m, 0, values),
        *_band(room, "wall bases", answer.wall_band_m, corners, values, width),
    )


def _band(
    room: Room,
    where: str,
    length: float,
    corners: int,
    values: TradeValues,
    fitness: tuple[Fitness, ...] = (),
) -> tuple[Material, ...]:
    if length < NOISE_M:
        return ()
    ends, at_corners = laps_m(room, length, corners, values)
    parts = (
        (where, length),
        ("laps where a roll ends", ends),
        ("laps on both sides of corners", at_corners),
    )
    return (
        Material(
            role="band",
            unit="m",
            required=length,
            with_allowance=length + ends + at_corners,
            reasons=tuple(Reason(text, quantity) for text, quantity in parts if quantity),
            fitness=fitness,
            one_system=True,
            rooms=(room.name,),
        ),
    )


def _pieces(room: Room, role: str, count: int, why: str) -> Material:
    return Material(role, "piece", count, count, (Reason(why, count),), one_system=True, rooms=(room.name,))


def _work(answer: Waterproofing) -> tuple[Work, ...]:
    work = (
        Work("band", "metres", answer.band_length_m, "m"),
        Work("inside_corner", "waterproofing_corners", answer.inside_corners, "piece"),
        Work("outside_corner", "waterproofing_corners", answer.outside_corners, "piece"),
        Work("pipe_seal", "count", answer.pipe_seals, "piece"),
        Work("drain_seal", "count", answer.drain_seals, "piece"),
    )
    return tuple(part for part in work if part.quantity)


def _waits(values: TradeValues) -> tuple[Wait, ...]:
    before, during = "waterproofing.flood_wait", "waterproofing.flood_hold"
    return (
        Wait("waterproofing", values.number(before), values.citation(before)),
        Wait("flood_test", values.number(during), values.citation(during)),
    )
