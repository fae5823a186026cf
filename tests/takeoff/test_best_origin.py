"""The search for the best start: worked rooms, and that it never does worse than the corner."""

from __future__ import annotations

from dataclasses import astuple, replace
from datetime import date
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from service.takeoff.answer import Layout, OriginChoice, OriginSearch
from service.takeoff.errors import InputError
from service.takeoff.geometry import FloorShape, floor_shape
from service.takeoff.laid_floor import Floor, LaidFloor
from service.takeoff.lattice import Turn, repeat_of
from service.takeoff.laying import Ground, lay, narrowest_share
from service.takeoff.layout import lay_out
from service.takeoff.pieces import count_needed
from service.takeoff.room import Doorway, Focus, Outline, Pattern, Ring, Room, Tile
from service.takeoff.tried import GAP, step_of
from service.trade.values import load_trade_values
from tests.takeoff.outlines import rectangle, rectilinear, room_of, star

VALUES = load_trade_values("us", date(2026, 6, 1))


def best(room: Room) -> Layout:
    return lay_out(replace(room, origin="best"), floor_shape(room), VALUES)


def judged(room: Room, shape: FloorShape, layout: Layout) -> tuple[int, int]:
    """The first two criteria: the step of the narrowest piece, the tiles needed."""
    assert layout.origin is not None
    turn = Turn(room.pattern.rotation)
    laid = lay(
        Ground(turn.to_tile(shape.field)), repeat_of(room), turn.point_to_tile(layout.origin), room.min_piece
    )
    return step_of(narrowest_share(laid, room.joint)), layout.tiles_needed


def test_balanced_rather_than_a_strip() -> None:
    """3990 wide leaves a strip of 51 from the corner, 175.5 on both sides when balanced (derived)."""
    layout = best(room_of(rectangle(4000, 3000), perimeter_joint=5.0))
    assert layout.narrowest_piece_mm == pytest.approx(175.5)
    assert layout.tiles_needed == 140


def test_us_room_is_best_from_the_corner() -> None:
    """10 x 12 ft at a module of 12 in: cuts of 11.5 in on two sides against 11.656 in on four (derived)."""
    inch = 25.4
    tile = Tile(11.8125 * inch, 11.8125 * inch)
    room = room_of(
        rectangle(120 * inch, 144 * inch), tile=tile, joint=0.1875 * inch, perimeter_joint=0.25 * inch
    )
    assert (best(room).whole_tiles, best(room).cut_tiles) == (99, 21)


def test_fewest_tiles_among_starts_without_narrow_pieces() -> None:
    """1.5 tiles across in two halves or one whole and a half: both keep half a tile, the halves pair up."""
    room = room_of(rectangle(450, 1200), joint=0.0, perimeter_joint=0.0)
    layout = best(replace(room, saw=replace(room.saw, kerf=0.0)))
    assert layout.narrowest_piece_mm == pytest.approx(150)
    assert layout.tiles_needed == layout.tiles_lower_bound == 6


def test_exact_fit_is_found() -> None:
    layout = best(room_of(rectangle(3007, 2407), tile=Tile(297, 297), perimeter_joint=5.0))
    assert (layout.whole_tiles, layout.cut_tiles) == (80, 0)


def test_no_gap_wider_than_the_joint_is_left_to_save_cuts() -> None:
    """908 wide: three whole tiles leave 8, too narrow to lay and too wide for no joint."""
    room = room_of(rectangle(908, 300), joint=0.0, perimeter_joint=0.0)
    assert best(room).unlaid_slivers == 0
    assert best(replace(room, shape=room_of(rectangle(900, 300)).shape)).cut_tiles == 0


@st.composite
def rooms(draw: st.DrawFn) -> Room:
    bond = draw(st.none() | st.sampled_from((Fraction(1, 2), Fraction(1, 3))))
    return Room(
        "room",
        draw(st.one_of(rectilinear(largest=3000), star(largest=1500))),
        Tile(*draw(st.sampled_from(((300, 300), (600, 300))))),
        pattern=Pattern(
            "running_bond" if bond else "stack_bond", bond or Fraction(0), draw(st.sampled_from((0.0, 45.0)))
        ),
    )


@settings(max_examples=40, deadline=None)
@given(rooms())
def test_best_is_never_worse_than_the_corner(room: Room) -> None:
    try:
        shape = floor_shape(room)
    except InputError:
        assume(False)
        raise
    corner = lay_out(replace(room, origin="corner"), shape, VALUES)
    assert judged(room, shape, best(room)) <= judged(room, shape, corner)


@settings(max_examples=20, deadline=None)
@given(rooms())
def test_the_search_is_deterministic(room: Room) -> None:
    try:
        assert best(room) == best(room)
    except InputError:
        assume(False)


@pytest.mark.parametrize(
    ("share", "step"),
    [(1.0, 0), (0.5, 0), (0.499, 1), (1 / 3, 1), (0.3, 2), (0.2, 3), (0.1, 4)],
)
def test_steps_of_the_narrowest_piece(share: float, step: int) -> None:
    assert step_of(share) == step


def found(room: Room) -> OriginSearch:
    search = best(room).search
    assert search is not None
    return search


def value(choice: OriginChoice) -> tuple[float, ...]:
    step = step_of(choice.narrowest_share) if choice.narrowest_share > 0 else GAP
    return step, choice.tiles_needed, choice.cuts, round(choice.imbalance, 2)


@settings(max_examples=20, deadline=None)
@given(rooms())
def test_the_answer_shows_what_was_gained(room: Room) -> None:
    """The chosen start is the floor's own, the corner is that of a floor laid so, none is better than the
    chosen, and the next best come in order."""
    try:
        layout, shape = best(room), floor_shape(room)
    except InputError:
        assume(False)
        raise
    search = layout.search
    assert search is not None
    corner = lay_out(replace(room, origin="corner"), shape, VALUES)
    for choice, floor in ((search.chosen, layout), (search.corner, corner)):
        assert (choice.origin, choice.tiles_needed) == (floor.origin, floor.tiles_needed)
        assert choice.cuts == sum(astuple(floor.cuts))
    assert value(search.chosen) <= value(search.corner)
    order = [search.chosen, *search.runners_up]
    assert [value(each) for each in order] == sorted(value(each) for each in order)
    assert len(search.runners_up) <= 2


def test_a_given_origin_is_not_searched() -> None:
    room = room_of(rectangle(4000, 3000), origin="corner")
    assert lay_out(room, floor_shape(room), VALUES).search is None


@settings(max_examples=20, deadline=None)
@given(rooms(), st.tuples(*[st.integers(-(10**5), 10**5)] * 2))
def test_the_best_start_moves_with_the_room(room: Room, by: tuple[int, int]) -> None:
    outline = room.shape
    assert isinstance(outline, Outline)

    def moved(ring: Ring) -> Ring:
        return tuple((x + by[0], y + by[1]) for x, y in ring)

    there = replace(outline, ring=moved(outline.ring), holes=tuple(map(moved, outline.holes)))
    try:
        one, other = found(room).chosen, found(replace(room, shape=there)).chosen
    except InputError:
        assume(False)
        raise
    assert value(one) == pytest.approx(value(other), abs=0.011)


def test_quarter_turn_where_it_fits() -> None:
    """2115 x 1203: tile of 600 x 300 upright fits seven by two, lying down it leaves 306 of a tile."""
    room = room_of(rectangle(2130, 1215), tile=Tile(600, 300), min_piece=20.0)
    turned = replace(room, pattern=Pattern(try_rotations=(90.0,)))
    layout = best(turned)
    assert layout.plan is not None
    assert layout.plan.lattice.rotation_deg == 90.0
    assert (layout.whole_tiles, layout.cut_tiles) == (14, 0)
    assert layout.search is not None
    assert layout.search.corner.rotation_deg == 0.0
    assert value(found(turned).chosen) < value(found(room).chosen)


@pytest.mark.parametrize(("wall", "begins"), [(0, 3.0), (2, 3.0 + 150.0 + 3.0 - 303.0)])
def test_whole_tile_at_the_entrance_where_all_else_is_equal(wall: int, begins: float) -> None:
    """Field 5 tiles by 4 and a half: the half may lie at either end, and lies away from the door."""
    room = room_of(
        rectangle(1518, 1368), doorways=(Doorway(wall, 612, 300),), perimeter_joint=3.0, min_piece=20.0
    )
    chosen = found(room).chosen
    assert chosen.whole_at_entrance is True
    assert (chosen.origin[1] - begins) % 303 == pytest.approx(0)
    assert found(replace(room, doorways=())).chosen.cuts == chosen.cuts


def test_no_entrance_and_no_focus_no_view() -> None:
    chosen = found(room_of(rectangle(4000, 3000))).chosen
    assert (chosen.whole_at_entrance, chosen.cut_on_sight_line) == (None, None)


@pytest.mark.parametrize(("origin", "cut"), [("corner", 1), ((36.0, 6.0), 2)])
def test_cut_tiles_on_the_sight_line(origin: Any, cut: int) -> None:
    """Field 3 x 303 + 47 long: seen from the left wall the corner start has one cut tile at the far end,
    one begun 30 in has two."""
    room = room_of(rectangle(968, 612), focus=Focus("wall", 3), tile=Tile(300, 600))
    floor = Floor.of(room, floor_shape(room))
    laid = LaidFloor(floor, (6.0, 6.0) if origin == "corner" else origin)
    assert laid.cut_on_sight_line == cut


@pytest.mark.parametrize("focus", [Focus("wall", 4), Focus("doorway", 0), Focus("wall", -1)])
def test_focus_that_is_not_there(focus: Focus) -> None:
    with pytest.raises(InputError) as refused:
        best(room_of(rectangle(4000, 3000), focus=focus))
    assert refused.value.pointer == "/focus"


@settings(max_examples=40, deadline=None)
@given(rooms(), st.sampled_from(((300, 300), (600, 300), (610, 300), (400, 300))))
def test_pieces_over_half_their_tile_take_a_tile_each(room: Room, size: tuple[int, int]) -> None:
    """Where the floor says so, the model of offcuts finds no two pieces in one tile either."""
    try:
        floor = Floor.of(replace(room, tile=Tile(*size)), floor_shape(room))
    except InputError:
        assume(False)
        raise
    low = floor.ground.field.bounds[:2]
    laid = LaidFloor(floor, floor.ground.turn.point_to_room((low[0] + 160.0, low[1] + 160.0)))
    if all(each.takes_tiles_alone(2.0) for each in laid.tiles):
        assert count_needed(laid.needed) == laid.pieces == laid.tiles_needed


def test_a_quarter_turn_lets_pieces_over_half_share() -> None:
    """400 x 300: 205 x 155 turned is 155 wide, beside 205 and a kerf of 2 within 400; not in 300 x 300."""
    room = room_of(rectangle(205, 155), joint=0.0, perimeter_joint=0.0)
    for tile, alone in ((Tile(400, 300), False), (Tile(300, 300), True), (Tile(320, 155), True)):
        floor = Floor.of(replace(room, tile=tile), floor_shape(room))
        laid = LaidFloor(floor, (0.0, 0.0)).tiles[0]
        assert laid.takes_tiles_alone(0.0) is alone
