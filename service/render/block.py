"""The block along the bottom of a sheet: what is drawn, what the signs mean, and the scale."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from xml.etree.ElementTree import Element

from service.render.fittings import FOLD_DASH, JOINT_DASH, SEAM_DASH, start_of
from service.render.layers import LAYERS, Layer
from service.render.lengths import LengthUnits, length_text
from service.render.sheet import BLOCK_HEIGHT, EXTRA_WIDE, MARGIN, MEDIUM, THIN, WIDE, Sheet
from service.render.svg import circle, clipped, group, line, number, path, rect, text
from service.render.tiles import KINDS, kind_of, too_fine
from service.render.walls import OPEN_DASH, way_in
from service.takeoff.answer import RoomTakeoff
from service.takeoff.room import AREA_KINDS, Outline, Point, Room
from service.units import MM_PER_FOOT, to_us

CELLS, NARROW_CELL = (0.40, 0.78), 0.64
"""Where the block is divided: title, legend, scale; on a narrow sheet title and scale."""
NAME, FACT = 5.0, 2.4
"""Font sizes [mm]."""
PAD = 3.0
COLUMNS, NARROW_COLUMNS = (2, 8), (4, 4)
"""Columns of the legend, and signs below one another in each."""

_Sign = Callable[[Element, Point], None]
_Cell = tuple[Point, float]
"""The upper left corner of a part of the block and its width [mm]."""


def draw_block(
    root: Element,
    room: Room,
    answer: RoomTakeoff,
    sheet: Sheet,
    units: LengthUnits,
    unnamed: int,
    layers: Collection[str] = LAYERS,
) -> None:
    """Frame, title, legend of the layers drawn, and scale bar."""
    title, legend, scale = _cells(root, sheet)
    unnamed_too = [f"pieces too small here for their names: {unnamed}"] if unnamed else []
    said = [*facts(room, answer, units), *_start(answer, sheet, units), *unnamed_too]
    draw_title(root, room.name, said, *title)
    signs = [(sign, words) for layer, sign, words in _signs(room, answer, sheet) if layer in layers]
    _draw_legend(root, signs, *legend, *(NARROW_COLUMNS if sheet.narrow else COLUMNS))
    _draw_scale(root, sheet, units, *scale)


def _cells(root: Element, sheet: Sheet) -> tuple[_Cell, _Cell, _Cell]:
    """Title, legend and scale, with the lines between them."""
    left, right, top, bottom = MARGIN, sheet.width - MARGIN, sheet.block_top, sheet.height - MARGIN
    frame = draw_frame(root, sheet.width, sheet.height)
    line(frame, (left, top), (right, top))
    if sheet.narrow:
        first, below = left + NARROW_CELL * (right - left), top + BLOCK_HEIGHT
        line(frame, (first, top), (first, below))
        line(frame, (left, below), (right, below))
        return ((left, top), first - left), ((left, below), right - left), ((first, top), right - first)
    first, second = (left + part * (right - left) for part in CELLS)
    for x in (first, second):
        line(frame, (x, top), (x, bottom))
    return ((left, top), first - left), ((first, top), second - first), ((second, top), right - second)


def draw_frame(root: Element, width: float, height: float) -> Element:
    """The line around the drawing."""
    frame = group(root, "frame", fill="none", stroke="#000", stroke_width=number(WIDE))
    inner = width - 2 * MARGIN, height - 2 * MARGIN
    rect(frame, (MARGIN, MARGIN), *inner, stroke_width=number(EXTRA_WIDE))
    return frame


def draw_title(root: Element, name: str, facts_: Sequence[str], corner: Point, width: float) -> None:
    """The room's name and what there is to know, from the upper left corner of their cell."""
    layer = group(root, "title", fill="#000")
    x, y = corner[0] + PAD, corner[1] + PAD + 0.8 * NAME
    text(layer, (x, y), clipped(name, NAME * 1.1, width - 2 * PAD), NAME, font_weight="bold")
    for i, fact in enumerate(facts_):
        text(layer, (x, y + 5.6 + i * 4.1), clipped(fact, FACT, width - 2 * PAD), FACT)


def facts(room: Room, answer: RoomTakeoff, units: LengthUnits) -> Iterator[str]:
    """Tile, pattern and count in a tiler's words."""
    tile, layout = room.tile, answer.layout
    unit = " mm" if units == "mm" else ""
    size = " x ".join(length_text(side, units) for side in (tile.length, tile.width, tile.thickness))
    yield f"{tile.material} tile {size}{unit}, joint {length_text(room.joint, units)}{unit}"
    yield _pattern(room)
    if layout.laid_out:
        yield f"{layout.whole_tiles} whole and {layout.cut_tiles} cut tiles, {layout.pieces} pieces"
    yield f"{layout.tiles_needed} tiles needed, breakage and spares not counted"
    area, per = (
        (answer.measures.floor_area_m2, "m2") if units == "mm" else to_us(answer.measures.floor_area_m2, "m2")
    )
    narrowest = layout.narrowest_piece_mm
    told = "" if narrowest is None else f", narrowest piece {length_text(narrowest, units)}{unit}"
    yield f"floor {area:.2f} {per}{told}"


def _start(answer: RoomTakeoff, sheet: Sheet, units: LengthUnits) -> Iterator[str]:
    """Where setting out starts, measured from the lower left of the room's box."""
    start = start_of(answer.layout.plan.lattice, sheet) if answer.layout.plan else None
    if start is not None:
        right, up = (length_text(at - low, units) for at, low in zip(start, sheet.low, strict=True))
        yield f"setting out starts {right} from the left, {up} from below"


def _pattern(room: Room) -> str:
    pattern = room.pattern
    words = [pattern.kind.replace("_", " ")]
    if pattern.offset:
        words.append(f"offset {pattern.offset}")
    if pattern.rotation:
        words.append(f"turned {pattern.rotation:g}\u00b0")
    return ", ".join(words)


def _draw_legend(
    root: Element,
    signs: Iterable[tuple[_Sign, str]],
    corner: Point,
    width: float,
    columns: int,
    rows: int,
) -> None:
    """Only the signs that the sheet uses, column by column."""
    layer = group(root, "legend", font_size=number(FACT))
    for i, (sign, words) in enumerate(signs):
        column, row = divmod(i, rows)
        x = corner[0] + PAD + column * (width - PAD) / columns
        y = corner[1] + PAD - 0.5 + row * 4.6
        sign(layer, (x, y))
        text(layer, (x + 10, y + 2.9), clipped(words, FACT, (width - PAD) / columns - 10), FACT)


def _signs(room: Room, answer: RoomTakeoff, sheet: Sheet) -> Iterator[tuple[Layer, _Sign, str]]:
    """Only what the drawing has, by layer."""
    plan = answer.layout.plan
    counted = Counter(kind_of(piece.cuts) for piece in plan.cut) if plan else Counter()
    fine = plan is not None and too_fine(plan.lattice, sheet)
    yield "tiles", _box("#fff", THIN), "whole tiles, a course" if fine else "whole tile"
    for kind in KINDS[::-1]:
        if counted[kind]:
            yield "cuts", _box(f"url(#cut-{kind})", MEDIUM), f"{_KIND_WORDS[kind]} ({counted[kind]})"
    yield "walls", _box("#d8d8d8", 0), "joint, or not tiled"
    yield "walls", _stroke(EXTRA_WIDE, "", "#9a9a9a"), "wall"
    if isinstance(room.shape, Outline) and len(room.shape.walls) < _sides(room.shape):
        yield "walls", _stroke(EXTRA_WIDE, OPEN_DASH), "open edge"
    if any(obstruction.kind in AREA_KINDS for obstruction in room.obstructions):
        yield "obstructions", _taken, "column, fixture or stair"
    if room.doorways:
        yield "doorways", _entrance, "entrance"
    yield "setting-out", _setting_out, "setting out starts here"
    if answer.folds:
        yield "folds", _stroke(WIDE, FOLD_DASH), f"fold of the falls ({len(answer.folds)})"
    if answer.movement_joints.lines:
        metres = answer.movement_joints.field_length_m + answer.movement_joints.doorway_length_m
        yield "movement-joints", _stroke(EXTRA_WIDE, JOINT_DASH), f"movement joint ({metres:.2f} m)"
    if answer.membrane and answer.membrane.seams:
        yield "membrane-seams", _stroke(THIN, SEAM_DASH), "membrane seam, below"


_KIND_WORDS = {
    "straight": "cut straight",
    "diagonal": "cut at an angle",
    "notch_l": "notched, L",
    "notch_u": "notched, U",
    "hole": "with a hole",
    "curve": "cut round",
}


def _sides(outline: Outline) -> int:
    return sum(len(ring) for ring in (outline.ring, *outline.holes))


def _box(fill: str, stroke: float) -> _Sign:
    edge = {"stroke": "#111", "stroke_width": number(stroke)} if stroke else {}
    return lambda layer, at: rect(layer, at, 8, 3.6, fill=fill, **edge)


def _taken(layer: Element, at: Point) -> None:
    ends = {"stroke": "#000", "stroke_width": number(THIN)}
    rect(layer, at, 8, 3.6, fill="#fff", stroke="#000", stroke_width=number(WIDE))
    line(layer, at, (at[0] + 8, at[1] + 3.6), **ends)
    line(layer, (at[0], at[1] + 3.6), (at[0] + 8, at[1]), **ends)


def _entrance(layer: Element, at: Point) -> None:
    line(layer, (at[0], at[1] + 2.8), (at[0] + 8, at[1] + 2.8), stroke="#000", stroke_width=number(MEDIUM))
    way_in(layer, (at[0] + 4, at[1] + 2.8), (0.0, -2.2))


def _setting_out(layer: Element, at: Point) -> None:
    circle(layer, (at[0] + 1.2, at[1] + 1.8), 1.1, fill="#fff", stroke="#000", stroke_width=number(WIDE))
    line(
        layer, (at[0] + 2.3, at[1] + 1.8), (at[0] + 6, at[1] + 1.8), stroke="#000", stroke_width=number(WIDE)
    )
    tip = [(at[0] + 8, at[1] + 1.8), (at[0] + 5.4, at[1] + 1), (at[0] + 5.4, at[1] + 2.6)]
    path(layer, [tip], fill="#000")


def _stroke(width: float, dash: str, ground: str = "#fff") -> _Sign:
    def sign(layer: Element, at: Point) -> None:
        dashed = {"stroke_dasharray": dash} if dash else {}
        y = at[1] + 1.8
        if ground != "#fff":
            rect(layer, at, 8, 1.8, fill=ground)
        line(layer, (at[0], y), (at[0] + 8, y), stroke="#000", stroke_width=number(width), **dashed)

    return sign


def _draw_scale(root: Element, sheet: Sheet, units: LengthUnits, corner: Point, width: float) -> None:
    """The scale in figures and as a bar, which stays true when the sheet is copied smaller."""
    layer = group(root, "scale-bar", fill="#000")
    x, y = corner[0] + PAD, corner[1] + PAD + 0.8 * NAME
    text(layer, (x, y), f"1:{sheet.scale}", NAME, font_weight="bold")
    text(layer, (x, y + 5), f"on {sheet.paper}", FACT)
    text(layer, (x, y + 9.2), "figures in mm" if units == "mm" else "feet and inches", FACT)
    length, parts, words = _bar(sheet.scale, units, width - 2 * PAD - 8)
    step = length / parts / sheet.scale
    for i in range(parts):
        fill = "#000" if i % 2 == 0 else "#fff"
        rect(layer, (x + i * step, y + 15), step, 2, fill=fill, stroke="#000", stroke_width=number(THIN))
    text(layer, (x, y + 20.5), "0", FACT)
    text(layer, (x + parts * step, y + 20.5), words, FACT, text_anchor="middle")


def _bar(scale: int, units: LengthUnits, most: float) -> tuple[float, int, str]:
    """The longest round length that fits `most` mm of paper: its length [mm], parts and name."""
    unit, name = (1000.0, "m") if units == "mm" else (float(MM_PER_FOOT), "ft")
    lengths = [
        (digit * 10.0**power, parts) for power in range(-2, 5) for digit, parts in ((1, 5), (2, 4), (5, 5))
    ]
    length, parts = [pair for pair in lengths if pair[0] * unit / scale <= most][-1]
    return length * unit, parts, f"{length:g} {name}"
