"""The tile plan of one room, as SVG: what a tiler pins to the wall."""

from __future__ import annotations

from collections.abc import Collection
from xml.etree.ElementTree import Element

from service.render.block import draw_block, draw_frame, draw_title, facts
from service.render.dimensions import draw_dimensions
from service.render.fittings import (
    draw_folds,
    draw_joints,
    draw_names,
    draw_obstructions,
    draw_origin,
    draw_seams,
    marks_of,
    taken_by,
)
from service.render.layers import LAYERS, Layer, layered
from service.render.lengths import LengthUnits
from service.render.sheet import MARGIN, PAPERS, sheet_for
from service.render.svg import document, written
from service.render.tiles import KINDS, draw_cuts, draw_ids, draw_tiles, hatches, kind_of
from service.render.walls import (
    Bounds,
    draw_doorways,
    draw_ground,
    draw_open_edges,
    draw_wall_lines,
    entrance_of,
)
from service.takeoff.answer import Plan, RoomTakeoff
from service.takeoff.room import Outline, Room

NO_PLAN = "Only an area is known of this floor, so no tile is laid out and there is nothing to draw."


def plan_svg(
    room: Room, answer: RoomTakeoff, units: LengthUnits = "mm", layers: Collection[Layer] = LAYERS
) -> str:
    """The plan of `room` to scale on A4 or A3, dimensions in mm or in feet and inches (`units` "us").

    Each group names its layer in `data-layer`; only `layers` are drawn. The same room and answer give the
    same text. A floor that was not laid out gets a sheet that says so.
    """
    if answer.layout.plan is None or not isinstance(room.shape, Outline):
        return written(layered(_note(room, answer, units), {"block"}))
    return written(layered(_drawn(room, room.shape, answer, answer.layout.plan, units, layers), layers))


def _drawn(
    room: Room,
    outline: Outline,
    answer: RoomTakeoff,
    plan: Plan,
    units: LengthUnits,
    layers: Collection[Layer],
) -> Element:
    sheet = sheet_for(outline.ring)
    bounds = Bounds(outline, room.doorways, sheet)
    root = document(sheet.width, sheet.height, room.name)
    used = {kind_of(piece.cuts) for piece in plan.cut}
    hatches(root, [kind for kind in KINDS if kind in used])
    draw_ground(root, bounds)
    draw_tiles(root, plan, sheet)
    draw_cuts(root, plan, sheet)
    draw_seams(root, answer.membrane, sheet)
    marks = marks_of(room.obstructions, sheet)
    draw_obstructions(root, marks)
    draw_wall_lines(root, bounds)
    draw_open_edges(root, bounds)
    draw_folds(root, answer.folds, sheet)
    draw_doorways(root, bounds, units, entrance_of(room))
    draw_joints(root, answer.movement_joints, sheet)
    unnamed = draw_ids(root, plan, sheet, taken_by(marks))
    draw_origin(root, plan.lattice, sheet)
    draw_names(root, marks)
    draw_dimensions(root, outline.ring, sheet, units)
    draw_block(root, room, answer, sheet, units, unnamed if "piece-ids" in layers else 0, layers)
    return root


def _note(room: Room, answer: RoomTakeoff, units: LengthUnits) -> Element:
    """A landscape A4 sheet with the facts and no drawing."""
    _, width, height = PAPERS[0]
    root = document(width, height, room.name)
    draw_frame(root, width, height)
    said = [NO_PLAN, *facts(room, answer, units)]
    draw_title(root, room.name, said, (MARGIN, MARGIN), width - 2 * MARGIN)
    return root
