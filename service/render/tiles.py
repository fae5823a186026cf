"""The laid floor on paper: whole tiles, cut pieces shaded by their kind, and the pieces' names."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product
from xml.etree.ElementTree import Element, SubElement

import numpy as np
from shapely import Polygon, box
from shapely.geometry.base import BaseGeometry

from service.render.sheet import THIN, Sheet
from service.render.svg import HALO, group, number, path, plain, text, text_width
from service.takeoff.answer import CutKind, CutPiece, Cuts, Lattice, Plan, RowRun
from service.takeoff.placed import cell_corners, to_room_axes
from service.takeoff.room import Ring

KINDS: tuple[CutKind, ...] = ("hole", "curve", "notch_u", "notch_l", "diagonal", "straight")
"""Kinds of cut, the most laborious first: a piece is shaded by its first."""

_HATCHES: dict[CutKind, tuple[float, float, str]] = {
    "straight": (2.4, 45, "M0 1.2H2.4"),
    "diagonal": (1.6, -45, "M0 .8H1.6"),
    "notch_l": (1.6, 0, "M0 .8H1.6"),
    "notch_u": (1.6, 90, "M0 .8H1.6"),
    "hole": (1.6, 0, "M.8 .5V1.1M.5 .8H1.1"),
    "curve": (1.8, 45, "M0 .9H1.8M.9 0V1.8"),
}
"""Repeat [mm], turn [degrees] and stroke of each kind's hatch, to be told apart without colour."""

FINEST = 1.2
"""Tiles shorter than this on paper are drawn a run at a time [mm]."""
ID_SIZES = (2.2, 1.8, 1.5, 1.2)
"""Font sizes of a piece's name, the largest that fits is taken [mm]."""


def kind_of(cuts: Cuts) -> CutKind:
    """The most laborious kind of cut in the piece; a piece without any is only cut straight by its field."""
    return next((kind for kind in KINDS if getattr(cuts, kind)), "straight")


def hatches(root: Element, kinds: Sequence[CutKind]) -> None:
    """The patterns that the drawing uses."""
    definitions = SubElement(root, "defs")
    for kind in kinds:
        size, turn, stroke = _HATCHES[kind]
        box = {"width": number(size), "height": number(size), "patternUnits": "userSpaceOnUse"}
        turned = {"patternTransform": f"rotate({number(turn)})"} if turn else {}
        pattern = SubElement(definitions, "pattern", {"id": f"cut-{kind}", **box, **turned})
        SubElement(pattern, "rect", {"width": number(size), "height": number(size), "fill": "#f2f2f2"})
        SubElement(pattern, "path", {"d": stroke, "stroke": "#777", "stroke-width": "0.18", "fill": "none"})


def draw_tiles(root: Element, plan: Plan, sheet: Sheet) -> None:
    """Whole tiles, a path for each run of them in a course."""
    layer = group(root, "tiles", fill="#fff", stroke="#333", stroke_width=number(THIN))
    outlines = run_strips if too_fine(plan.lattice, sheet) else run_outlines
    for run in plan.whole:
        drawn = ([sheet.at(p) for p in ring] for ring in outlines(plan.lattice, run))
        path(layer, drawn, data_row=str(run.row))


def too_fine(lattice: Lattice, sheet: Sheet) -> bool:
    """Whether single tiles would run into one another on paper."""
    return len(lattice.tiles) <= 1 and lattice.tile_length_mm / sheet.scale < FINEST


def run_outlines(lattice: Lattice, run: RowRun) -> Iterator[Ring]:
    """The outlines of the whole tiles of a run [mm in the room]."""
    tiles = lattice.tiles or (_rectangle(lattice.tile_length_mm, lattice.tile_width_mm),)
    columns = np.arange(run.first, run.last + 1, dtype=float)
    cells = cell_corners(lattice, np.full(len(columns), float(run.row)), columns)
    for corners in cells[:, None, :] + to_room_axes(lattice, np.array(tiles[run.tile])):
        yield tuple((x, y) for x, y in corners.tolist())


def run_strips(lattice: Lattice, run: RowRun) -> Iterator[Ring]:
    """A run of rectangular tiles as one strip."""
    length = (run.last - run.first) * lattice.pitch_x_mm + lattice.tile_length_mm
    strip = np.array(_rectangle(length, lattice.tile_width_mm))
    start = cell_corners(lattice, np.array([run.row]), np.array([run.first]))
    yield tuple((x, y) for x, y in (start + to_room_axes(lattice, strip)).tolist())


def _rectangle(length: float, width: float) -> Ring:
    return ((0.0, 0.0), (length, 0.0), (length, width), (0.0, width))


def draw_cuts(root: Element, plan: Plan, sheet: Sheet) -> None:
    layer = group(root, "cuts", stroke="#111", stroke_width=number(THIN), fill_rule="evenodd")
    for piece in plan.cut:
        rings = [[sheet.at(p) for p in ring] for ring in (piece.outline, *piece.holes)]
        kind, place = kind_of(piece.cuts), f"{piece.row} {piece.column} {piece.tile}"
        path(
            layer, rings, fill=f"url(#cut-{kind})", data_piece=plain(piece.id), data_cut=kind, data_tile=place
        )


def draw_ids(root: Element, plan: Plan, sheet: Sheet, taken: BaseGeometry) -> int:
    """Each piece's name inside it and clear of what is `taken`; the number of pieces too small for theirs."""
    layer = group(root, "piece-ids", text_anchor="middle", fill="#000", **HALO)
    return sum(not _draw_id(layer, piece, sheet, taken) for piece in plan.cut)


def _draw_id(layer: Element, piece: CutPiece, sheet: Sheet, taken: BaseGeometry) -> bool:
    """As large as it fits, upright before turned."""
    outline, *holes = ([sheet.at(p) for p in ring] for ring in (piece.outline, *piece.holes))
    free = Polygon(outline, holes).buffer(0).difference(taken)
    places = [] if free.is_empty else [free.centroid, free.representative_point()]
    for size, turned, place in product(ID_SIZES, (False, True), places):
        long, high = text_width(piece.id, size) / 2, 0.4 * size
        half_x, half_y = (high, long) if turned else (long, high)
        if free.covers(box(place.x - half_x, place.y - half_y, place.x + half_x, place.y + half_y)):
            down = 0.36 * size
            at = (place.x + down, place.y) if turned else (place.x, place.y + down)
            text(layer, at, piece.id, size, -90 if turned else 0)
            return True
    return False
