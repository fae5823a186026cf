"""The uncoupling membrane: strips as laid, seams, perimeter strip and heating cable.

Mats are butted, never lapped: a lap would lift the tile. In wet rooms a band closes the seams.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from math import ceil

from shapely import box
from shapely.geometry.base import BaseGeometry

from service.cutting.runs import split
from service.takeoff.answer import (
    CutLengths,
    Finding,
    Fitness,
    Layout,
    Material,
    MembraneLayout,
    MembraneStrip,
    Reason,
    Step,
    Work,
)
from service.takeoff.build_up import finished_level_mm
from service.takeoff.geometry import FloorShape
from service.takeoff.room import Membrane, Point, Room
from service.takeoff.sections import (
    LEAST_MM,
    Span,
    common_spans,
    level_spans,
    main_direction,
    merged,
    turned,
    turned_point,
    upright_spans,
)
from service.takeoff.sticks import from_sticks, runs_of
from service.trade.values import TradeValues

Seam = tuple[Point, Point]
LEAST_MM2 = 1.0  # a smaller part of the floor is noise of clipping


@dataclass(frozen=True, slots=True)
class MembraneTake:
    answer: MembraneLayout | None
    step: Step


def take(room: Room, shape: FloorShape, layout: Layout, values: TradeValues) -> MembraneTake:
    """Membrane [m2], perimeter strip [m], heating cable [m2] and their laying.

    Where only area and perimeter are known the quantities are those of a rectangle, whose strips and seams
    lie nowhere and are not answered.
    """
    mat = lay(shape, values) if room.membrane else None
    steps = (
        _mat(room, shape, mat, values) if mat else Step(),
        Step(materials=(_perimeter_strip(room, shape, values),)) if shape.measures.wall_length_m else Step(),
        _heating(room, shape, values) if room.heating == "electric" else Step(),
    )
    return MembraneTake(
        mat if mat is None or shape.laid_out else replace(mat, strips=(), seams=()),
        Step(
            materials=tuple(material for step in steps for material in step.materials),
            work=tuple(work for step in steps for work in step.work),
            findings=tuple(finding for step in steps for finding in step.findings),
        ),
    )


def lay(shape: FloorShape, values: TradeValues) -> MembraneLayout:
    """Strips in the better of the two main directions: least mat from the roll, then shortest seams."""
    width, roll = values.number("membrane.roll_width"), values.number("membrane.roll_length") * 1000.0
    along = main_direction(shape)
    both = [lay_along(shape.floor, angle, width, roll) for angle in (along, along + 90.0)]
    return min(both, key=lambda mat: (round(mat.area_m2, 6), round(mat.seam_length_m, 6)))


def lay_along(floor: BaseGeometry, angle: float, width: float, roll: float) -> MembraneLayout:
    """Butted strips over a floor in one direction.

    Args: floor in the room's coordinates [mm], direction [degrees], width and length of a roll [mm].
    A strip reaches as far as its part of the floor; it is parted where the floor is interrupted over
    its whole width, and joined end to end where it outruns a roll.
    """
    level = turned(floor, -angle)
    bands = _bands(level, width)
    runs = [(part, span) for part in bands for span in _runs(part, roll)]
    strips = tuple(_strip(part, span, angle) for part, span in runs)
    seams = (*_side_seams(level, width), *_end_seams(runs))
    metres = sum(strip.length_m for strip in strips)
    return MembraneLayout(
        strips=strips,
        seam_length_m=sum(_length(seam) for seam in seams) / 1000.0,
        rolls=from_sticks(CutLengths(runs_of(strip.length_m * 1000.0 for strip in strips)), roll).sticks,
        area_m2=metres * width / 1000.0,
        seams=tuple((turned_point(start, angle), turned_point(end, angle)) for start, end in seams),
    )


def _bands(level: BaseGeometry, width: float) -> list[BaseGeometry]:
    left, low, right, high = level.bounds
    count = ceil((high - low - LEAST_MM) / width)
    cuts = [low + number * width for number in range(count)]
    return [level.intersection(box(left - 1.0, y, right + 1.0, y + width)) for y in cuts]


def _runs(band: BaseGeometry, roll: float) -> list[Span]:
    parts = [part for part in getattr(band, "geoms", [band]) if part.area > LEAST_MM2]
    runs = []
    for start, end in merged([(part.bounds[0], part.bounds[2]) for part in parts]):
        for piece in split(end - start, roll):
            runs.append((start, start + piece))
            start += piece
    return runs


def _strip(band: BaseGeometry, span: Span, angle: float) -> MembraneStrip:
    _, below, _, above = band.bounds
    _, low, _, high = band.intersection(box(span[0], below, span[1], above)).bounds
    middle = (low + high) / 2.0
    return MembraneStrip(
        start=turned_point((span[0], middle), angle),
        end=turned_point((span[1], middle), angle),
        width_mm=high - low,
        length_m=(span[1] - span[0]) / 1000.0,
    )


def _side_seams(level: BaseGeometry, width: float) -> list[Seam]:
    """Where two strips lie side by side: the floor just below the line and just above it."""
    low, high = level.bounds[1], level.bounds[3]
    lines = [low + number * width for number in range(1, ceil((high - low - LEAST_MM) / width))]
    return [
        ((start, y), (end, y))
        for y in lines
        for start, end in common_spans(level_spans(level, y - LEAST_MM), level_spans(level, y + LEAST_MM))
    ]


def _end_seams(runs: list[tuple[BaseGeometry, Span]]) -> list[Seam]:
    """Where a strip goes on with the next roll."""
    joins = [(band, one[1]) for (band, one), (_, following) in pairwise(runs) if one[1] == following[0]]
    return [((x, low), (x, high)) for band, x in joins for low, high in upright_spans(band, x)]


def _length(seam: Seam) -> float:
    (x0, y0), (x1, y1) = seam
    return float(abs(x1 - x0) + abs(y1 - y0))


def _mat(room: Room, shape: FloorShape, mat: MembraneLayout, values: TradeValues) -> Step:
    laying = Work("lay_membrane", "area", shape.measures.floor_area_m2, "m2")
    return Step(materials=(_membrane(room, shape, mat, values),), work=(laying,))


def _membrane(room: Room, shape: FloorShape, mat: MembraneLayout, values: TradeValues) -> Material:
    thickness = (room.membrane or Membrane()).thickness
    area, loss = shape.measures.floor_area_m2, values.number("membrane.loss") * mat.area_m2
    width = values.number("membrane.roll_width")
    place = "" if shape.laid_out else " from a rectangle of this area and perimeter"
    cut_off = f"{len(mat.strips)} strips of a roll {width:.0f} mm wide, cut off{place}"
    return Material(
        role="membrane",
        unit="m2",
        required=area,
        with_allowance=mat.area_m2 + loss,
        reasons=(
            Reason("floor", area),
            Reason(cut_off, mat.area_m2 - area),
            Reason("trimming", loss),
        ),
        fitness=(Fitness("thickness", one_of=(thickness,)),),
        one_system=room.waterproof,
        rooms=(room.name,),
    )


def _perimeter_strip(room: Room, shape: FloorShape, values: TradeValues) -> Material:
    length, loss = shape.measures.wall_length_m, values.number("perimeter_strip.loss")
    height = finished_level_mm(room, values) + values.number("perimeter_strip.surplus")
    return Material(
        role="perimeter_strip",
        unit="m",
        required=length,
        with_allowance=length * (1.0 + loss),
        reasons=(Reason("walls and columns less doorways", length), Reason("loss", length * loss)),
        fitness=(Fitness("height_mm", at_least=height),),
        rooms=(room.name,),
    )


def _heating(room: Room, shape: FloorShape, values: TradeValues) -> Step:
    area = shape.measures.floor_area_m2
    reason = Reason("floor; a heating cable is never cut to length", area)
    return Step(
        materials=(Material("heating_cable", "m2", area, area, (reason,), rooms=(room.name,)),),
        work=(Work("lay_heating_cable", "area", area, "m2"),),
        findings=(_encased(room, values),),
    )


def _encased(room: Room, values: TradeValues) -> Finding:
    """An electric cable wants a mat that holds it, or levelling compound over it."""
    key = "membrane.heating_thickness"
    source = values.citation(key)
    if room.membrane and room.membrane.thickness == values.word(key):
        return Finding("heating_membrane", "pass", "The membrane holds the heating cable.", source)
    message = (
        "The heating cable must be wholly encased: choose the thick membrane made to hold it, "
        "or embed it in levelling compound first."
    )
    return Finding("heating_membrane", "condition", message, source)
