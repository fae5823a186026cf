"""The plan as drawn: measured back from the drawing, and what its words may not do."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from datetime import date
from fractions import Fraction
from pathlib import Path
from xml.etree import ElementTree

import pytest
from shapely import MultiPolygon, Polygon, union_all

from service.render.layers import LAYERS
from service.render.lengths import LengthUnits
from service.render.plan import NO_PLAN, plan_svg
from service.render.sheet import EXTRA_WIDE, MEDIUM, PAPERS, SCALES, THIN, WIDE, sheet_for
from service.render.svg import NAMESPACE
from service.takeoff.answer import RoomTakeoff
from service.takeoff.geometry import floor_shape
from service.takeoff.layout import lay_out
from service.takeoff.room import Doorway, Focus, Obstruction, Outline, Pattern, Point, Room, Tile
from service.trade.values import load_trade_values
from tests.render.floors import bare_floor, bare_room, rectangle, small_floor, small_room

SNAPSHOT = Path(__file__).with_name("small_room.svg")
NASTY = "</text><script>alert(\"1\")</script> & <b onload='x'> ]]> \x00\x1b[2J \ud800 \u202e"


def parsed(svg: str) -> ElementTree.Element:
    return ElementTree.fromstring(svg)  # noqa: S314  (our own output)


def layer(svg: str, id_: str) -> ElementTree.Element:
    found = parsed(svg).find(f".//{{{NAMESPACE}}}g[@id='{id_}']")
    assert found is not None
    return found


def words(svg: str) -> list[str]:
    return [element.text or "" for element in parsed(svg).iter(f"{{{NAMESPACE}}}text")]


def rings(group: ElementTree.Element) -> list[list[Point]]:
    """Every closed ring of the paths in a layer, in paper millimetres."""
    drawn = [path.attrib["d"] for path in group.iter(f"{{{NAMESPACE}}}path")]
    subpaths = [part for d in drawn for part in d.split("Z") if part]
    return [[_pair(corner) for corner in re.split("[ML]", part) if corner] for part in subpaths]


def _pair(corner: str) -> Point:
    x, y = map(float, corner.split())
    return x, y


def laid(room: Room) -> RoomTakeoff:
    """The room with the service's own layout, for drawings of rooms that no test has drawn by hand."""
    shape = floor_shape(room)
    layout = lay_out(room, shape, load_trade_values("us", date(2026, 6, 1)))
    return replace(small_floor(room.name), layout=layout, measures=shape.measures)


def walled(ring: tuple[Point, ...]) -> Outline:
    return Outline(ring, walls=tuple(range(len(ring))))


L_SHAPE = ((0.0, 0.0), (3600.0, 0.0), (3600.0, 1500.0), (2100.0, 1500.0), (2100.0, 2700.0), (0.0, 2700.0))
SMALL_RING = rectangle(0, 0, 1000, 700)
ROOMS = {
    "stack bond": Room("Stack", walled(L_SHAPE), Tile(200, 200), obstructions=small_room().obstructions[1:]),
    "running bond": Room(
        "Thirds",
        walled(L_SHAPE),
        Tile(600, 150),
        doorways=(Doorway(5, 300, 800, "oak"),),
        pattern=Pattern("running_bond", Fraction(1, 3)),
    ),
    "turned": Room("Turned", walled(L_SHAPE), Tile(300, 300), pattern=Pattern("stack_bond", rotation=30.0)),
    "herringbone": Room("H", walled(L_SHAPE), Tile(400, 100), pattern=Pattern("herringbone", rotation=45.0)),
    "hexagon": Room("X", walled(L_SHAPE), Tile(230, 230), pattern=Pattern("hexagon")),
    "basket weave": Room("B", walled(L_SHAPE), Tile(203, 100), pattern=Pattern("basket_weave")),
    "modular": Room(
        "M",
        walled(L_SHAPE),
        Tile(300, 300),
        pattern=Pattern("modular", tiles=(Tile(300, 300), Tile(150, 150))),
    ),
    "clockwise": Room("Clockwise", walled(L_SHAPE[::-1]), Tile(300, 300)),
}


def test_a_small_room_as_it_is_drawn() -> None:
    assert plan_svg(small_room(), small_floor()) == SNAPSHOT.read_text("utf-8")


@pytest.mark.parametrize("name", ROOMS)
def test_the_drawing_has_the_tiles_of_the_count_and_their_area(name: str) -> None:
    """Whole tiles and pieces are measured back from the paper with shapely and compared with the layout."""
    room, floor = ROOMS[name], laid(ROOMS[name])
    svg, scale = plan_svg(room, floor), sheet_for(ROOMS[name].shape.ring).scale  # type: ignore[union-attr]
    whole = [Polygon(ring) for ring in rings(layer(svg, "tiles"))]
    cut = [Polygon(ring) for ring in rings(layer(svg, "cuts"))]
    assert len(whole) + len(layer(svg, "cuts")) == floor.layout.pieces
    assert len(whole) == floor.layout.whole_tiles or room.obstructions  # a pierced tile is drawn as a piece
    drawn = union_all([*whole, *cut]).area * scale**2 / 1e6
    drains = sum(math.pi / 4e6 * (o.diameter or 0) ** 2 for o in room.obstructions)
    assert drawn == pytest.approx(floor.layout.tiled_area_m2, rel=0.003, abs=drains)
    assert sum(p.area for p in whole) == pytest.approx(
        union_all(whole).area, rel=1e-3
    )  # none lies on another


@pytest.mark.parametrize("name", ROOMS)
def test_tiles_lie_on_the_floor_and_walls_go_round_it(name: str) -> None:
    svg = plan_svg(ROOMS[name], laid(ROOMS[name]))
    (floor,) = (Polygon(ring) for ring in rings(layer(svg, "floor")))
    for ring in [*rings(layer(svg, "tiles")), *rings(layer(svg, "cuts"))]:
        assert floor.buffer(0.02).covers(Polygon(ring))


def test_y_runs_up_the_sheet() -> None:
    """The column of the small room stands in its upper left corner; paper's y runs down."""
    svg = plan_svg(small_room(), small_floor())
    (floor,), column = rings(layer(svg, "floor")), rings(layer(svg, "obstructions"))[0]
    assert min(y for _, y in column) == min(y for _, y in floor)
    assert min(x for x, _ in column) == min(x for x, _ in floor)


def test_words_outside_a_side_are_outside_whichever_way_round_the_room_was_drawn() -> None:
    for ring, wall in ((L_SHAPE, 0), (L_SHAPE[::-1], 4)):
        room = Room("R", walled(ring), Tile(300, 300), doorways=(Doorway(wall, 500, 900, "oak"),))
        svg = plan_svg(room, laid(room))
        (floor,) = rings(layer(svg, "floor"))
        (said,) = layer(svg, "doorway-words")
        assert said.text == "door 900 to oak"
        assert float(said.attrib["y"]) > max(y for _, y in floor)


def test_each_layer_has_its_group() -> None:
    svg = plan_svg(small_room(), small_floor())
    for id_ in (
        "walls",
        "floor",
        "tiles",
        "cuts",
        "membrane-seams",
        "movement-joints",
        "obstructions",
        "origin",
    ):
        assert len(layer(svg, id_)) > 0
    for id_ in ("open-edges", "doorways", "piece-ids", "dimensions", "legend", "scale-bar", "title", "frame"):
        assert len(layer(svg, id_)) > 0


def test_every_cut_is_named_and_shaded_by_its_kind() -> None:
    svg = plan_svg(small_room(), small_floor())
    named = {element.text for element in layer(svg, "piece-ids")}
    assert named == {"A4", "B1", "B4", "C1", "C2", "C3", "C4", "D3"}
    fills = [path.attrib["fill"] for path in layer(svg, "cuts")]
    assert [fills.count(f"url(#cut-{kind})") for kind in ("straight", "notch_l", "hole")] == [6, 1, 1]


def test_each_group_names_its_layer_and_layers_can_be_left_out() -> None:
    """All groups of the sheet belong to a layer; what is asked for is drawn as in the whole plan."""
    room = replace(small_room(), falls="point")
    floor = replace(small_floor(), folds=(((6.0, 6.0), (720.0, 300.0)),))
    whole = parsed(plan_svg(room, floor))
    groups = [child for child in whole if child.tag == f"{{{NAMESPACE}}}g"]
    assert {group.attrib["data-layer"] for group in groups} == set(LAYERS)
    for layer_ in LAYERS:
        kept = [c for c in parsed(plan_svg(room, floor, "mm", [layer_])) if c.tag == f"{{{NAMESPACE}}}g"]
        assert [g.attrib["id"] for g in kept] == [
            g.attrib["id"] for g in groups if g.attrib["data-layer"] == layer_
        ]


def test_the_legend_tells_only_of_layers_drawn() -> None:
    floor = replace(small_floor(), folds=(((6.0, 6.0), (720.0, 300.0)),))
    said = words(plan_svg(small_room(), floor))
    assert "fold of the falls (1)" in said
    assert "movement joint (1.20 m)" in said
    fewer = words(plan_svg(small_room(), floor, "mm", ["tiles", "block"]))
    assert "whole tile" in fewer
    assert not {"wall", "fold of the falls (1)", "membrane seam, below"} & set(fewer)


@pytest.mark.parametrize("units", ["mm", "us"])
@pytest.mark.parametrize("upright", [True, False])
def test_no_word_of_the_legend_or_of_the_tile_is_cut_short(units: LengthUnits, upright: bool) -> None:
    """A diagonal floor with a column, a drain and a door, on a sheet of either kind."""
    sides = (2000, 3300) if upright else (3300, 2000)
    ring = (*rectangle(0, 0, *sides)[:3], (300.0, float(sides[1])), (0.0, sides[1] - 300.0))
    room = replace(
        small_room("Turned"),
        shape=Outline(ring, walls=(0, 1, 2, 3)),
        doorways=(Doorway(0, 400, 500, "carpet"),),
        obstructions=(
            Obstruction("column", rectangle(900, 900, 200, 200)),
            Obstruction("drain", None, (1500.0, 500.0), 110.0),
        ),
        pattern=Pattern("stack_bond", rotation=45.0),
    )
    said = words(plan_svg(room, laid(room), units))
    assert any(word.startswith("cut at an angle (") for word in said)
    assert not [word for word in said if "\u2026" in word]


def test_each_piece_can_be_found_by_its_number() -> None:
    floor = laid(ROOMS["stack bond"])
    drawn = {path.attrib["data-piece"]: path for path in layer(plan_svg(ROOMS["stack bond"], floor), "cuts")}
    assert floor.layout.plan is not None
    for piece in floor.layout.plan.cut:
        path = drawn[piece.id]
        assert path.attrib["data-tile"] == f"{piece.row} {piece.column} {piece.tile}"
        assert path.attrib["fill"] == f"url(#cut-{path.attrib['data-cut']})"


def test_folds_and_joints_are_drawn_where_they_lie() -> None:
    """Measured back from the paper: the ends of each line in the room, and its width in print."""
    fold, joint = ((6.0, 6.0), (720.0, 300.0)), ((610.5, 0.0), (610.5, 694.0))
    svg, sheet = plan_svg(small_room(), replace(small_floor(), folds=(fold,))), sheet_for(SMALL_RING)
    for id_, line in (("folds", fold), ("movement-joints", joint)):
        ground, ink = layer(svg, id_)
        assert float(ground.attrib["stroke-width"]) > float(ink.attrib["stroke-width"]) >= WIDE
        ends = [(float(ink.attrib[f"x{i}"]), float(ink.attrib[f"y{i}"])) for i in (1, 2)]
        assert [c for end in ends for c in end] == pytest.approx(
            [c for end in line for c in sheet.at(end)], abs=0.006
        )


def test_the_entrance_is_the_doorway_in_focus_or_else_the_first() -> None:
    doors = (Doorway(0, 300, 700, "oak"), Doorway(5, 300, 700, "oak"))
    room = Room("Two doors", walled(L_SHAPE), Tile(300, 300), doorways=doors)
    for chosen, wall in ((None, 0), (Focus("doorway", 1), 5), (Focus("wall", 3), 0)):
        svg = plan_svg(replace(room, focus=chosen), laid(room))
        ((tip, *_),) = rings(layer(svg, "doorways"))
        sheet = sheet_for(L_SHAPE)
        middle = (650.0, 0.0) if wall == 0 else (0.0, 2700.0 - 650.0)
        assert tip == pytest.approx(sheet.at(middle), abs=0.006)


def test_a_name_that_does_not_fit_its_column_is_left_to_the_legend() -> None:
    column = Obstruction("column", rectangle(900, 600, 60, 60))
    room = Room("Column", walled(L_SHAPE), Tile(300, 300), obstructions=(column,))
    said = words(plan_svg(room, laid(room)))
    assert "column" not in said
    assert "column, fixture or stair" in said


def test_dimensions_in_both_units() -> None:
    metric, us = (plan_svg(small_room(), small_floor(), units) for units in ("mm", "us"))  # type: ignore[arg-type]
    assert [element.text for element in layer(metric, "dimension-words")] == ["1000", "700"]
    assert [element.text for element in layer(us, "dimension-words")] == ["3' 3 3/8\"", "2' 3 9/16\""]


def test_a_chain_goes_through_the_corners_and_adds_up() -> None:
    svg = plan_svg(ROOMS["stack bond"], laid(ROOMS["stack bond"]))
    figures = [element.text for element in layer(svg, "dimension-words")]
    assert figures == ["2100", "1500", "3600", "1500", "1200", "2700"]


@pytest.mark.parametrize(
    ("length", "width", "paper", "scale"),
    [
        (1000, 700, 297, 10),
        (3000, 2000, 420, 10),
        (3015, 2109, 297, 20),
        (2000, 3500, 210, 20),
        (2000, 3600, 420, 20),
        (5000, 3600, 420, 20),
        (9000, 4000, 297, 50),
    ],
)
def test_the_largest_scale_that_fits_on_the_smallest_sheet(
    length: float, width: float, paper: int, scale: int
) -> None:
    sheet = sheet_for(rectangle(0, 0, length, width))
    assert (sheet.width, sheet.scale) == (paper, scale)
    corners = [sheet.at(point) for point in rectangle(0, 0, length, width)]
    assert all(0 < x < sheet.width and 0 < y < sheet.block_top for x, y in corners)


def test_scales_papers_and_lines_are_those_of_the_standards() -> None:
    """ISO 5455: 1, 2 and 5 times a power of ten; ISO 216: sides 1 to root 2; ISO 128-2: widths by root 2."""
    assert {str(scale).rstrip("0") for scale in SCALES} == {"1", "2", "5"}
    assert all(max(w, h) / min(w, h) == pytest.approx(2**0.5, rel=0.003) for _, w, h in PAPERS)
    for thin, thick in ((THIN, MEDIUM), (MEDIUM, WIDE), (WIDE, EXTRA_WIDE)):
        assert thick / thin == pytest.approx(2**0.5, rel=0.02)


def test_a_kilometre_still_fits_a_sheet() -> None:
    assert sheet_for(rectangle(0, 0, 1e6, 1e6)).scale == 5000


@pytest.mark.parametrize("units", ["mm", "us"])
def test_words_from_outside_stay_words(units: str) -> None:
    room = small_room(NASTY)
    room = replace(room, doorways=(replace(room.doorways[0], adjoining=NASTY),))
    floor = small_floor(NASTY)
    plan = floor.layout.plan
    assert plan is not None
    piece = replace(plan.cut[0], id=NASTY, outline=rectangle(0, 0, 900, 600))
    floor = replace(floor, layout=replace(floor.layout, plan=replace(plan, cut=(piece, *plan.cut[1:]))))
    svg = plan_svg(room, floor, units)  # type: ignore[arg-type]
    tags = {element.tag.removeprefix(f"{{{NAMESPACE}}}") for element in parsed(svg).iter()}
    assert tags == {"svg", "title", "defs", "pattern", "rect", "path", "g", "line", "circle", "text"}
    assert not any(name.startswith("on") for element in parsed(svg).iter() for name in element.attrib)
    assert svg.encode("utf-8").isascii() or "\u202e" not in svg
    assert all(c.isprintable() or c == "\n" for c in svg)


def test_a_long_name_is_clipped_to_its_cell_and_to_200_characters() -> None:
    svg = plan_svg(small_room("name " * 100), small_floor())
    title = parsed(svg).find(f"{{{NAMESPACE}}}title")
    assert title is not None
    assert title.text is not None
    assert len(title.text) == 200
    shown = layer(svg, "title")[0].text
    assert shown is not None
    assert len(shown) < 50
    assert shown.endswith("\u2026")


def test_a_bare_area_gets_a_plain_note() -> None:
    svg = plan_svg(bare_room(), bare_floor())
    assert NO_PLAN in words(svg)
    assert "Hall" in words(svg)
    assert parsed(svg).find(f".//{{{NAMESPACE}}}g[@id='tiles']") is None


def test_mosaic_too_fine_to_draw_is_drawn_by_the_course() -> None:
    room = Room("Mosaic", walled(rectangle(0, 0, 3200, 2400)), Tile(20, 20), origin="corner")
    floor = laid(room)
    svg = plan_svg(room, floor)
    assert len(rings(layer(svg, "tiles"))) == len(floor.layout.plan.whole)  # type: ignore[union-attr]
    assert "whole tiles, a course" in words(svg)
    assert len(svg) < 200_000


def test_names_keep_clear_of_a_drain() -> None:
    drain = Obstruction("drain", None, (1050.0, 1000.0), 110.0)
    room = Room("Wet", walled(rectangle(0, 0, 2400, 2000)), Tile(300, 300), obstructions=(drain,))
    svg = plan_svg(room, laid(room))
    mark = next(layer(svg, "obstructions").iter(f"{{{NAMESPACE}}}circle"))
    x, y, radius = (float(mark.attrib[name]) for name in ("cx", "cy", "r"))
    for name in layer(svg, "piece-ids"):
        assert (float(name.attrib["x"]) - x) ** 2 + (float(name.attrib["y"]) - y) ** 2 > radius**2


def test_a_hole_in_the_floor_has_its_walls_around_it() -> None:
    """A light well: its walls are drawn on the well's side, so the floor keeps its full area."""
    outline = Outline(rectangle(0, 0, 3000, 2000), (rectangle(1200, 800, 600, 400),), walls=tuple(range(8)))
    room = Room("Well", outline, Tile(300, 300))
    svg = plan_svg(room, laid(room))
    outer, inner = rings(layer(svg, "floor"))
    scale = sheet_for(outline.ring).scale
    assert MultiPolygon([(outer, [inner])]).area * scale**2 == pytest.approx(
        3000 * 2000 - 600 * 400, rel=1e-3
    )
    assert len(list(layer(svg, "wall-lines"))) == 2


def test_the_same_room_is_drawn_the_same() -> None:
    assert plan_svg(small_room(), small_floor()) == plan_svg(small_room(), small_floor())
