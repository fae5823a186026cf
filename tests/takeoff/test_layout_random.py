"""Random floors against a brute-force count that clips every tile with shapely, and what must always hold."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, Polygon, affinity

from service.takeoff.answer import Layout
from service.takeoff.errors import InputError
from service.takeoff.geometry import FloorShape, floor_shape
from service.takeoff.layout import lay_out
from service.takeoff.room import Doorway, Outline, Pattern, Room, Tile
from service.trade.values import load_trade_values
from tests.takeoff.outlines import rectilinear, star

VALUES = load_trade_values("us", date(2026, 6, 1))
TOLERANCE = 1e-3
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


@dataclass(frozen=True)
class Counted:
    whole: int
    cut: int
    pieces: int
    slivers: int
    area: float
    narrowest: float


def brute_force(room: Room, field: Polygon | MultiPolygon, layout: Layout) -> Counted:
    """Every tile of a generous lattice as a rotated shapely box, clipped one and all."""
    assert layout.origin is not None
    length, width, turn = room.tile.length, room.tile.width, room.pattern.rotation
    step_x, step_y = length + room.joint, width + room.joint
    shift = float(room.pattern.offset) * step_x
    ox, oy = layout.origin
    x0, y0, x1, y1 = affinity.rotate(field, -turn, origin=(ox, oy)).bounds
    boxes = [
        shapely.box(x, y, x + length, y + width)
        for row in range(math.floor((y0 - oy) / step_y) - 1, math.ceil((y1 - oy) / step_y) + 1)
        for column in range(
            math.floor((x0 - ox - row * shift) / step_x) - 1, math.ceil((x1 - ox - row * shift) / step_x) + 1
        )
        for x, y in [(ox + column * step_x + row * shift, oy + row * step_y)]
    ]
    placed = [affinity.rotate(box, turn, origin=(ox, oy)) for box in boxes]
    whole = shapely.covers(field.buffer(TOLERANCE, join_style="mitre"), placed)
    parts, owner = shapely.get_parts(shapely.intersection(field, placed), return_index=True)
    solid = shapely.area(parts) > TOLERANCE * shapely.length(parts) / 2
    parts, owner = parts[solid], owner[solid]
    upright = [affinity.rotate(part, -turn, origin=(ox, oy)) for part in parts]
    bounds = shapely.bounds(upright).reshape(-1, 4)
    sides = np.minimum(bounds[:, 2] - bounds[:, 0], bounds[:, 3] - bounds[:, 1])
    laid = sides >= min(room.min_piece, length, width) - TOLERANCE
    return Counted(
        whole=int(whole.sum()),
        cut=len({i for i in owner[laid].tolist() if not whole[i]}),
        pieces=int(laid.sum()),
        slivers=int((~laid).sum()),
        area=float(shapely.area(parts[laid]).sum()),
        narrowest=float(sides[laid].min(initial=math.inf)),
    )


@settings(max_examples=200, deadline=None)
@given(tiled_rooms())
def test_counts_agree_with_brute_force(room: Room) -> None:
    shape = shape_or_skip(room)
    layout = lay_out(room, shape, VALUES)
    counted = brute_force(room, shape.field, layout)
    assert (layout.whole_tiles, layout.cut_tiles, layout.pieces, layout.unlaid_slivers) == (
        counted.whole,
        counted.cut,
        counted.pieces,
        counted.slivers,
    )
    assert layout.tiled_area_m2 * 1e6 == pytest.approx(counted.area, abs=1.0)
    if counted.pieces:
        assert layout.narrowest_piece_mm == pytest.approx(counted.narrowest, abs=TOLERANCE)


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
    assert shapely.union_all(cut).area == pytest.approx(together, abs=1.0)
    assert together + runs * room.tile.length * room.tile.width == pytest.approx(layout.tiled_area_m2 * 1e6)
    assert shape.field.buffer(0.01).covers(shapely.union_all(cut))
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
