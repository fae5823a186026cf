"""What the search counts without laying tile, held against floors laid tile by tile and against clipping."""

from __future__ import annotations

from dataclasses import astuple, replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from service.takeoff.answer import Cuts
from service.takeoff.clipped_counts import count_each
from service.takeoff.cuts import sawing_of, sides_of
from service.takeoff.errors import InputError
from service.takeoff.geometry import FloorShape, floor_shape
from service.takeoff.laid_floor import Floor, LaidFloor
from service.takeoff.level_counts import count_all, courses_of
from service.takeoff.level_field import level_field
from service.takeoff.room import Doorway, Obstruction, Pattern, Ring, Room, Tile
from service.takeoff.starts import cell_of, level_starts
from service.takeoff.tried import GAP, Tried, Wants, step_of
from tests.benchmarks.reference import Clipped, count, tiles_on
from tests.takeoff.outlines import rectangle, rectilinear, room_of, star

LEVEL = (
    Pattern(),
    Pattern("running_bond", Fraction(1, 2)),
    Pattern("running_bond", Fraction(1, 3)),
    Pattern("running_bond", Fraction(2, 5)),
    Pattern("basket_weave"),
)
OTHER = (
    Pattern(rotation=45.0),
    Pattern(rotation=17.3),
    Pattern("herringbone"),
    Pattern("herringbone", rotation=45.0),
    Pattern("hexagon"),
    Pattern("modular", tiles=(Tile(400, 400), Tile(200, 200))),
)


def shape_or_skip(room: Room) -> FloorShape:
    try:
        return floor_shape(room)
    except InputError:
        assume(False)
        raise


def step_laid(laid: LaidFloor) -> int:
    return step_of(laid.narrowest_share) if laid.narrowest_share > 0 else GAP


@st.composite
def level_rooms(draw: st.DrawFn) -> Room:
    return Room(
        "room",
        draw(rectilinear(largest=2500)),
        Tile(*draw(st.sampled_from(((600, 300), (300, 148.5))))),
        pattern=draw(st.sampled_from(LEVEL)),
        joint=draw(st.sampled_from((0.0, 3.0, 5.0))),
        min_piece=draw(st.sampled_from((0.0, 10.0, 40.0))),
    )


@st.composite
def other_rooms(draw: st.DrawFn) -> Room:
    return Room(
        "room",
        draw(st.one_of(rectilinear(largest=2500), star(largest=1500))),
        Tile(600, 148.5),
        pattern=draw(st.sampled_from((*LEVEL[:4], *OTHER))),
        min_piece=draw(st.sampled_from((0.0, 10.0))),
    )


@settings(max_examples=40, deadline=None)
@given(level_rooms(), st.tuples(*[st.floats(0, 1)] * 2))
def test_starts_on_a_right_angled_field_are_counted_as_laid(room: Room, at: tuple[float, float]) -> None:
    """Steps, pieces and cuts of a start anywhere and of one flush with two edges."""
    try:
        floor = Floor.of(room, shape_or_skip(room))
    except InputError:
        assume(False)
    level, courses = level_field(floor.ground.field), courses_of(floor.repeat)
    assert level is not None
    assert courses is not None
    xs = np.array([at[0] * floor.repeat.step_x, level.xs[-1]])
    ys = np.array([at[1] * floor.repeat.step_y, level.ys[0]])
    tried = count_all(level, courses, xs, ys, Wants.of(room))
    for i in range(4):
        laid = LaidFloor(floor, tried.start(i))
        counted = (tried.step[i], tried.pieces[i], tried.cuts[i])
        assert counted == (step_laid(laid), laid.pieces, sum(astuple(laid.cuts)))


@settings(max_examples=60, deadline=None)
@given(other_rooms(), st.lists(st.tuples(*[st.floats(0, 1)] * 2), min_size=2, max_size=2))
def test_starts_on_any_field_are_counted_as_laid(room: Room, at: list[tuple[float, float]]) -> None:
    floor = Floor.of(room, shape_or_skip(room))
    tried = count_each(floor.ground, floor.repeat, np.array(at) @ cell_of(floor.repeat), Wants.of(room))
    for i in range(len(at)):
        laid = LaidFloor(floor, floor.ground.turn.point_to_room(tried.start(i)))
        assert (tried.step[i], tried.pieces[i]) == (step_laid(laid), laid.pieces)


@settings(max_examples=40, deadline=None)
@given(other_rooms())
def test_cuts_of_all_pieces_together_are_those_of_each(room: Room) -> None:
    laid = LaidFloor(Floor.of(room, shape_or_skip(room)), (123.4, -56.7))
    for each, sawn in zip(laid.tiles, laid.sawings, strict=True):
        for i, outline in enumerate(each.outlines):
            x, y = each.corners[i].tolist()
            one = sawing_of(outline, sides_of(each.tile, (x, y)))
            assert (sawn.cuts(i), sawn.lengths[i]) == (one.cuts, pytest.approx(one.length))


def test_cuts_of_a_floor_of_whole_tiles() -> None:
    room = room_of(rectangle(600, 600), joint=0.0, perimeter_joint=0.0)
    assert LaidFloor(Floor.of(room, floor_shape(room)), (0.0, 0.0)).cuts == Cuts()


COLUMN = Obstruction("column", ((100, 200), (160, 200), (160, 260), (100, 260)))
L_ROOM: Ring = ((0, 0), (420, 0), (420, 180), (270, 180), (270, 330), (0, 330))
U_ROOM: Ring = ((0, 0), (350, 0), (350, 290), (240, 290), (240, 120), (110, 120), (110, 250), (0, 250))
SMALL = {
    "L with a column": room_of(L_ROOM, tile=Tile(57, 57), obstructions=(COLUMN,), min_piece=5.0),
    "U": room_of(U_ROOM, tile=Tile(57, 57), min_piece=5.0),
    "L, half bond": room_of(L_ROOM, tile=Tile(87, 47), min_piece=5.0, pattern=LEVEL[1]),
    "narrow": room_of(rectangle(331, 133), tile=Tile(57, 57), min_piece=5.0),
}


def clipped_on_a_grid(floor: Floor, pitch: float) -> list[Clipped]:
    """Every start of a grid over one cell, by clipping every tile."""
    room, size = floor.room, (floor.room.tile.length, floor.room.tile.width)
    x0, y0, _, _ = floor.ground.field.bounds
    return [
        count(
            floor.ground.field,
            tiles_on(floor.ground.field, floor.repeat, (x0 + x, y0 + y)),
            size,
            size[0] * size[1],
            room.min_piece,
            room.joint,
        )
        for x in np.arange(0.0, floor.repeat.step_x, pitch)
        for y in np.arange(0.0, floor.repeat.step_y, pitch)
    ]


def searched(floor: Floor) -> Tried:
    level, courses = level_field(floor.ground.field), courses_of(floor.repeat)
    assert level is not None
    assert courses is not None
    xs, ys = level_starts(level, courses, (6.0, 6.0), Wants.of(floor.room))
    return count_all(level, courses, xs, ys, Wants.of(floor.room))


def gap_or_step(each: Clipped) -> int:
    return GAP if each.gap else step_of(each.narrowest_share)


@pytest.mark.parametrize("name", SMALL)
@pytest.mark.parametrize("pitch", [3.0, pytest.param(1.0, marks=pytest.mark.full)])
def test_no_start_of_a_grid_has_wider_pieces_or_as_wide_and_fewer(name: str, pitch: float) -> None:
    """Brute force: every start of a grid (1 mm in the long proofs), every tile clipped with shapely."""
    floor = Floor.of(SMALL[name], floor_shape(SMALL[name]))
    tried = searched(floor)
    best = tried.ranked()[0]
    grid = clipped_on_a_grid(floor, pitch)
    reached = min(map(gap_or_step, grid))
    assert tried.step[best] <= reached
    if tried.step[best] == reached:
        as_wide = [each.pieces for each in grid if gap_or_step(each) == reached]
        assert tried.pieces[tried.step == reached].min() <= min(as_wide)


def test_no_start_of_a_millimetre_grid_beats_the_search_in_a_bathroom() -> None:
    """An L of 7.9 m2 with a column and a doorway, tile of 200: all 41,209 starts of a grid of 1 mm, counted.

    No start leaves all pieces half a tile wide; of those with a third the search finds the fewest pieces."""
    ring: Ring = ((0, 0), (3600, 0), (3600, 1500), (2100, 1500), (2100, 2700), (0, 2700))
    column = Obstruction("column", ((900, 1800), (1200, 1800), (1200, 2100), (900, 2100)))
    room = room_of(ring, tile=Tile(200, 200), obstructions=(column,), doorways=(Doorway(5, 1500, 800),))
    floor = Floor.of(room, floor_shape(room))
    level, courses = level_field(floor.ground.field), courses_of(floor.repeat)
    assert level is not None
    assert courses is not None
    along = np.arange(6.0, 209.0)
    grid = count_all(level, courses, along, along, Wants.of(room))
    found = searched(floor)
    for tried in (grid, found):
        assert tried.step.min() == 1
    assert found.pieces[found.step == 1].min() <= grid.pieces[grid.step == 1].min()


def test_a_field_that_is_not_right_angled_has_no_grid() -> None:
    assert level_field(floor_shape(room_of(((0, 0), (2000, 100), (2000, 2000), (0, 2000)))).field) is None


def test_courses_that_hardly_repeat_are_no_courses() -> None:
    room = room_of(rectangle(3000, 2000), pattern=Pattern("running_bond", Fraction(5, 17)))
    floor = Floor.of(replace(room, origin="best"), floor_shape(room))
    assert courses_of(floor.repeat) is None
