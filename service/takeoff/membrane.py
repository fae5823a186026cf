"""The uncoupling membrane, cut in strips from rolls; perimeter strip and heating cable."""

from __future__ import annotations

from dataclasses import dataclass, replace

from service.cutting.runs import CutLengths, narrow_of, runs_of
from service.cutting.stock import Stock
from service.sentence import say
from service.takeoff import strip_grid
from service.takeoff.answer import (
    Finding,
    Fitness,
    Material,
    MembraneLayout,
    Reason,
    Step,
    Work,
)
from service.takeoff.build_up import cable_held, finished_level_mm
from service.takeoff.geometry import FloorShape
from service.takeoff.room import Membrane, Room
from service.takeoff.sections import LEAST_MM
from service.takeoff.sticks import roll_area_m2
from service.takeoff.strips import Roll
from service.trade.values import TradeValues

MM_PER_M = 1000.0
MM2_PER_M2 = 1e6


@dataclass(frozen=True, slots=True)
class MembraneTake:
    answer: MembraneLayout | None
    step: Step


def take(room: Room, shape: FloorShape, mat: MembraneLayout | None, values: TradeValues) -> MembraneTake:
    """Membrane [m2] as laid in `mat`, perimeter strip [m], heating cable [m2] and their laying.

    Where only area and perimeter are known the quantities are those of a rectangle, whose strips and seams
    lie nowhere and are not answered.
    """
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


def lay(shape: FloorShape, chosen: Membrane, values: TradeValues) -> MembraneLayout:
    """Strips of the roll, in the better direction and from the best start."""
    keys = ("membrane.wall_gap", "membrane.sliver")
    gap, sliver = (values.number(key) for key in keys)
    return strip_grid.lay(shape, roll_of(chosen, values), gap, sliver, roll_sizes(values))


def roll_sizes(values: TradeValues) -> list[Stock]:
    """The usual lengths of roll [mm] and what they cost beside each other."""
    rows = values.table("membrane.rolls")
    return [Stock(float(row["length"]) * MM_PER_M, float(row["price"])) for row in rows]


def roll_of(chosen: Membrane, values: TradeValues) -> Roll:
    """Width, as the product chosen states it or as usual, usual length and shortest joined piece [mm]."""
    return Roll(
        chosen.roll_width or values.number("membrane.roll_width"),
        values.number("membrane.roll_length") * MM_PER_M,
        values.number("membrane.min_piece"),
    )


def _mat(room: Room, shape: FloorShape, mat: MembraneLayout, values: TradeValues) -> Step:
    laying = Work("lay_membrane", "area", shape.measures.floor_area_m2, "m2")
    return Step(materials=(_membrane(room, shape, mat, values),), work=(laying,))


def _membrane(room: Room, shape: FloorShape, mat: MembraneLayout, values: TradeValues) -> Material:
    chosen = room.membrane or Membrane()
    roll = roll_of(chosen, values)
    area, lengths, width = shape.measures.floor_area_m2, _lengths(mat, roll, values), roll.width
    bought = roll_area_m2(lengths, roll.length)
    place = "" if shape.laid_out else " from a rectangle of this area and perimeter"
    cut_off = f"{len(mat.strips)} strips of a roll {width:.0f} mm wide, cut off{place}"
    return Material(
        role="membrane",
        unit="m2",
        required=area,
        with_allowance=bought,
        reasons=(
            Reason("floor", area),
            Reason(cut_off, mat.area_m2 - area),
            Reason("trimming", bought - mat.area_m2),
        ),
        fitness=(
            Fitness("thickness", one_of=(chosen.thickness,)),
            Fitness("width_mm", at_least=width, at_most=width, if_stated=True),
        ),
        one_system=room.waterproof,
        rooms=(room.name,),
        lengths=lengths,
    )


def _lengths(mat: MembraneLayout, roll: Roll, values: TradeValues) -> CutLengths:
    """Strips to cut from rolls, each longer by what is trimmed off, as far as the usual roll gives it."""
    loss = values.number("membrane.loss")
    laid = [(strip.length_m * MM_PER_M, strip.width_mm) for strip in mat.strips]
    cut = [(max(length, min(length * (1.0 + loss), roll.length)), width) for length, width in laid]
    full = runs_of(length for length, width in cut if width >= roll.width - LEAST_MM)
    narrow = narrow_of((length, width) for length, width in cut if width < roll.width - LEAST_MM)
    return CutLengths(full, 0.0, roll.least_piece, roll.width, narrow)


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
    area = heated_m2(shape, values)
    reason = Reason("floor less a margin along its edges; a heating cable is never cut to length", area)
    return Step(
        materials=(
            Material("heating_cable", "m2", area, area, (reason,), rooms=(room.name,), never_above=True),
        ),
        work=(Work("lay_heating_cable", "area", area, "m2"),),
        findings=(_encased(room, values), _sets(area, values)),
    )


def heated_m2(shape: FloorShape, values: TradeValues) -> float:
    """The floor that a cable heats [m2]: it keeps off walls, columns and what stands fast."""
    margin = values.number("membrane.cable_margin")
    return float(shape.floor.buffer(-margin, join_style="mitre").area) / MM2_PER_M2


def _sets(area: float, values: TradeValues) -> Finding:
    """An embedded cable is never shortened, so that its sets are together no larger than the floor [m2]."""
    least = values.number("membrane.cable_least")
    if area < least:
        small = say(
            "The usual sets of heating cable begin at {least:g m2}, and a cable is never cut: for "
            "{area:.2f m2} a set that is small enough must be found, or the heating left out.",
            least=least,
            area=area,
        )
        return Finding("heating_size", "condition", small, values.citation("membrane.cable_least"))
    message = say(
        "A heating cable is never cut: the largest sets are bought that do not exceed {area:.2f m2}. What "
        "they leave stays unheated, along walls and under what stands fast.",
        area=area,
    )
    return Finding("heating_size", "pass", message, values.citation("membrane.cable_least"))


def _encased(room: Room, values: TradeValues) -> Finding:
    """An electric cable is wholly encased: in the mat that holds it, else in compound or fall screed."""
    source = values.citation("membrane.heating_thickness")
    if cable_held(room, values):
        return Finding("heating_membrane", "pass", "The membrane holds the heating cable.", source)
    depth = values.number("levelling.cable_depth")
    compound = say("{depth:g mm} of levelling compound", depth=depth)
    message = say(
        "This build-up does not hold the heating cable: it is laid on the ground and embedded in {layer}, "
        "which is in the materials and hours. The thick membrane made to hold it needs none.",
        layer=compound if room.falls == "none" else say("the fall screed"),
    )
    return Finding("heating_membrane", "condition", message, source)
