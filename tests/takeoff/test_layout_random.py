"""Random floors against a brute-force count, and what must always hold."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date
from fractions import Fraction

import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely import Polygon

from service.takeoff.answer import Layout
from service.takeoff.errors import InputError
from service.takeoff.geometry import FloorShape, floor_shape
from service.takeoff.layout import lay_out
from service.takeoff.room import Doorway, Outline, Pattern, Room, Tile
from service.trade.values import load_trade_values
from tests.takeoff.brute_force import check, count
from tests.takeoff.outlines import rectilinear, star

VALUES = load_trade_values("us", date(2026, 6, 1))
SIZES = ((300, 300), (600, 300), (200, 100), (600, 200), (450, 450))
OFFSETS = (Fraction(1, 2), Fraction(1, 3), Fraction(1, 4), Fraction(2, 5))


@st.composite
def tiled_rooms(draw: st.DrawFn) -> Room:
    """Right-angled and oblique rooms, some with holes, doorways and open edges, in stack or running bond."""
    outline = draw(st.one_of(rectilinear(), star()))
    open_edge = draw(st.none() | st.integers(0, len(outline.ring) - 1))
    outline = replace(outline, walls=tuple(w for w in outline.walls if w != open_edge))
    wall = draw(st.sampled_from(outline.walls))
    edge = wall_length(outline, wall)
    doors = (Doorway(wall, edge * 0.1, edge * 0.6),) if draw(st.booleans()) else ()
    bond = draw(st.none() | st.sampled_from(OFFSETS))
    rotation = draw(st.sampled_from((0.0, 90.0, 45.0, 30.0, 17.3)))
    return Room(
        "room",
        outline,
        Tile(*draw(st.sampled_from(SIZES))),
        doorways=doors,
        pattern=Pattern("running_bond" if bond else "stack_bond", bond or Fraction(0), rotation),
        origin=draw(st.sampled_from(("corner", "centre_tile", "centre_joint", (123.4, -56.7)))),
        joint=draw(st.sampled_from((0.0, 2.0, 3.0, 5.0))),
        perimeter_joint=draw(st.sampled_from((0.0, 6.0, 10.0))),
        min_piece=draw(st.sampled_from((0.0, 10.0, 40.0))),
    )


def wall_length(outline: Outline, wall: int) -> float:
    rings = (outline.ring, *outline.holes)
    sides = [side for ring in rings for side in zip(ring, ring[1:] + ring[:1], strict=True)]
    return math.dist(*sides[wall])


def shape_or_skip(room: Room) -> FloorShape:
    try:
        return floor_shape(room)
    except InputError:
        assume(False)
        raise


@settings(max_examples=150, deadline=None)
@given(tiled_rooms())
def test_counts_agree_with_brute_force(room: Room) -> None:
    """With doorways and open edges, on the field and from the start that the take-off found."""
    shape = shape_or_skip(room)
    layout = lay_out(room, shape, VALUES)
    assert layout.origin is not None
    check(layout, count(room, shape.field, layout.origin))


@settings(max_examples=60, deadline=None)
@given(tiled_rooms())
def test_pieces_cover_the_field_once(room: Room) -> None:
    """Whole tiles and cut pieces do not overlap, lie on the field, and with joints make up the field."""
    shape = shape_or_skip(room)
    layout = lay_out(room, shape, VALUES)
    assert layout.plan is not None
    cut = [Polygon(piece.outline, piece.holes) for piece in layout.plan.cut]
    runs = sum(run.last - run.first + 1 for run in layout.plan.whole)
    assert runs == layout.whole_tiles
    together = sum(piece.area for piece in cut)
    # On a grid: in floating point GEOS lets some pieces that share a slanting edge lie on each other.
    union = shapely.union_all(cut, grid_size=1e-6)
    assert union.area == pytest.approx(together, abs=1.0)
    assert together + runs * room.tile.length * room.tile.width == pytest.approx(layout.tiled_area_m2 * 1e6)
    assert shape.field.buffer(0.01).covers(union)
    if room.joint > 0:
        joints = layout.joint_length_m * 1e3 * room.joint
        field = (layout.tiled_area_m2 + layout.unlaid_area_m2) * 1e6 + joints
        assert field == pytest.approx(shape.field.area, abs=1.0)
        assert joints >= -1.0


@settings(max_examples=60, deadline=None)
@given(tiled_rooms())
def test_tiles_needed_lie_between_bound_and_pieces(room: Room) -> None:
    layout = lay_out(room, shape_or_skip(room), VALUES)
    assert layout.tiles_lower_bound <= layout.tiles_needed <= layout.whole_tiles + layout.pieces
    assert layout.tiles_needed * room.tile.length * room.tile.width >= layout.tiled_area_m2 * 1e6 - 1


@settings(max_examples=40, deadline=None)
@given(tiled_rooms(), st.tuples(*[st.integers(-(10**6), 10**6)] * 2))
def test_moving_the_room_moves_nothing_else(room: Room, by: tuple[int, int]) -> None:
    outline = room.shape
    assert isinstance(outline, Outline)

    def moved(ring: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
        return tuple((x + by[0], y + by[1]) for x, y in ring)

    there = replace(outline, ring=moved(outline.ring), holes=tuple(map(moved, outline.holes)))
    origin = room.origin if isinstance(room.origin, str) else moved((room.origin,))[0]
    one = lay_out(room, shape_or_skip(room), VALUES)
    away = replace(room, shape=there, origin=origin)
    other = lay_out(away, floor_shape(away), VALUES)
    assert figures(one) == figures(other)
    assert other.tiled_area_m2 == pytest.approx(one.tiled_area_m2, abs=1e-6)


@settings(max_examples=40, deadline=None)
@given(tiled_rooms(), st.tuples(*[st.integers(-500, 500)] * 2))
def test_mirrored_room_gives_mirrored_counts(room: Room, origin: tuple[int, int]) -> None:
    """In the mirror x becomes -x: a tile's low corner becomes its other one, turn and offset change sign."""
    outline = room.shape
    assert isinstance(outline, Outline)

    def mirrored(ring: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
        return tuple((-x, y) for x, y in ring)

    turn = math.radians(room.pattern.rotation)
    corner = (origin[0] + room.tile.length * math.cos(turn), origin[1] + room.tile.length * math.sin(turn))
    pattern = replace(room.pattern, rotation=-room.pattern.rotation, offset=-room.pattern.offset)
    room = replace(room, origin=(float(origin[0]), float(origin[1])))
    there = replace(outline, ring=mirrored(outline.ring), holes=tuple(map(mirrored, outline.holes)))
    doors = tuple(replace(door) for door in room.doorways)
    other_room = replace(room, shape=there, origin=(-corner[0], corner[1]), pattern=pattern, doorways=doors)
    one = lay_out(room, shape_or_skip(room), VALUES)
    other = lay_out(other_room, floor_shape(other_room), VALUES)
    assert figures(one) == figures(other)


def figures(layout: Layout) -> tuple[object, ...]:
    return (
        layout.whole_tiles,
        layout.cut_tiles,
        layout.pieces,
        layout.unlaid_slivers,
        layout.cuts,
        layout.tiles_lower_bound,
    )
