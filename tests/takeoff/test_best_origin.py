"""The search for the best start: worked rooms, and that it never does worse than the corner."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from fractions import Fraction

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from service.takeoff.answer import Layout
from service.takeoff.errors import InputError
from service.takeoff.geometry import FloorShape, floor_shape
from service.takeoff.lattice import Turn, repeat_of
from service.takeoff.laying import Ground, lay, narrowest_share
from service.takeoff.layout import lay_out
from service.takeoff.room import Pattern, Room, Tile
from service.takeoff.tried import step_of
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
