"""The cut list, put back into the room by shapely; pieces numbered as one reads."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from shapely import Polygon, box, union_all
from shapely.affinity import rotate, translate

from service.takeoff.answer import Plan
from service.takeoff.cut_list import cut_list
from service.takeoff.geometry import floor_shape
from service.takeoff.layout import lay_out
from service.takeoff.room import Obstruction, Pattern, Room, Tile
from tests.takeoff.outlines import rectangle, room_of
from tests.takeoff.rooms import VALUES

ELL = ((0.0, 0.0), (3600.0, 0.0), (3600.0, 1500.0), (2100.0, 1500.0), (2100.0, 2700.0), (0.0, 2700.0))
PIPE = Obstruction("pipe", centre=(1000.0, 1000.0), diameter=60.0)
PATTERNS = {
    "stack": (Pattern(), Tile(300, 300)),
    "thirds": (Pattern("running_bond", Fraction(1, 3), 20.0), Tile(600, 150)),
    "diagonal": (Pattern(rotation=45.0), Tile(300, 300)),
    "herringbone": (Pattern("herringbone", rotation=45.0), Tile(600, 150)),
    "basket": (Pattern("basket_weave", rotation=90.0), Tile(203, 100)),
    "hexagon": (Pattern("hexagon"), Tile(200, 200)),
    "modular": (Pattern("modular", tiles=(Tile(400, 400), Tile(200, 200))), Tile(400, 400)),
}


def planned(room: Room) -> Plan:
    plan = lay_out(room, floor_shape(room), VALUES).plan
    assert plan is not None
    return plan


def room(name: str) -> Room:
    pattern, tile = PATTERNS[name]
    return room_of(ELL, pattern=pattern, tile=tile, obstructions=(PIPE,), origin="corner")


@pytest.mark.parametrize("name", PATTERNS)
def test_each_piece_lies_on_its_tile_and_goes_to_its_place(name: str) -> None:
    plan = planned(room(name))
    listed = cut_list(plan)
    assert [piece.id for piece in listed] == [str(number + 1) for number in range(len(plan.cut))]
    for piece, drawn in zip(listed, plan.cut, strict=True):
        outline = Polygon(piece.outline, piece.holes)
        assert box(0, 0, piece.length_mm, piece.width_mm).buffer(0.01).covers(outline)
        back = translate(rotate(outline, piece.rotation_deg, origin=(0, 0)), *piece.position)
        assert back.symmetric_difference(Polygon(drawn.outline, drawn.holes)).area < 0.1
        assert piece.cuts == drawn.cuts


@pytest.mark.parametrize("name", sorted(PATTERNS.keys() - {"hexagon"}))
def test_the_tiles_of_the_list_do_not_overlap(name: str) -> None:
    # Tiles of rectangular patterns stand apart by their joints, so that their boxes in place do too.
    placed = {
        (piece.row, piece.column, piece.tile): translate(
            rotate(box(0, 0, piece.length_mm, piece.width_mm), piece.rotation_deg, origin=(0, 0)),
            *piece.position,
        )
        for piece in cut_list(planned(room(name)))
    }
    assert union_all(list(placed.values())).area == pytest.approx(sum(t.area for t in placed.values()))


def test_numbers_run_as_one_reads() -> None:
    # By hand: 1000 x 700, tile 300, joint 3, perimeter 5: four columns, three courses; the upper is cut
    # four times, the two below only at the right-hand wall.
    small = room_of(rectangle(1000, 700), perimeter_joint=5.0, origin="corner")
    places = [(piece.row, piece.column) for piece in planned(small).cut]
    assert places == [(2, 0), (2, 1), (2, 2), (2, 3), (1, 3), (0, 3)]


def test_numbers_do_not_depend_on_where_the_room_lies() -> None:
    here = planned(room("diagonal"))
    moved = replace(
        room("diagonal"),
        shape=room_of(tuple((x + 700.0, y - 1300.0) for x, y in ELL)).shape,
        obstructions=(Obstruction("pipe", centre=(1700.0, -300.0), diameter=60.0),),
    )
    there = planned(moved)
    assert [(p.id, p.row, p.column) for p in here.cut] == [(p.id, p.row, p.column) for p in there.cut]
