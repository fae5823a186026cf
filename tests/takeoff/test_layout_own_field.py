"""Closed rooms with columns, counted by brute force on a field and a start found without the take-off."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, Polygon

from service.takeoff.errors import InputError
from service.takeoff.geometry import floor_shape
from service.takeoff.layout import lay_out
from service.takeoff.room import Obstruction, Outline, Pattern, Point, Room, Tile
from service.trade.values import load_trade_values
from tests.takeoff.brute_force import check, count
from tests.takeoff.outlines import rectilinear, ring_of, star

VALUES = load_trade_values("us", date(2026, 6, 1))
SIZES = ((300, 300), (600, 300), (200, 100), (600, 200), (450, 450))
OFFSETS = (Fraction(1, 2), Fraction(1, 3), Fraction(1, 4), Fraction(2, 5))


@st.composite
def closed_rooms(draw: st.DrawFn) -> Room:
    """Rooms with walls all round and up to two columns, some of which stand at a wall."""
    outline = draw(st.one_of(rectilinear(), star()))
    columns = []
    for _ in range(draw(st.integers(0, 2))):
        x, y = (round(draw(st.sampled_from(outline.ring))[axis]) for axis in (0, 1))
        x, y = x + draw(st.integers(-900, 900)), y + draw(st.integers(-900, 900))
        sides = draw(st.tuples(*[st.integers(60, 500)] * 2))
        columns.append(ring_of(shapely.box(x, y, x + sides[0], y + sides[1]).exterior.coords))
    bond = draw(st.none() | st.sampled_from(OFFSETS))
    return Room(
        "room",
        outline,
        Tile(*draw(st.sampled_from(SIZES))),
        obstructions=tuple(Obstruction("column", outline=ring) for ring in columns),
        pattern=Pattern("running_bond" if bond else "stack_bond", bond or Fraction(0)),
        origin="corner",
        joint=draw(st.sampled_from((0.0, 2.0, 3.0, 5.0))),
        perimeter_joint=draw(st.sampled_from((0.0, 6.0, 10.0, 25.0))),
        min_piece=draw(st.sampled_from((0.0, 10.0, 40.0))),
    )


def own_field(room: Room) -> Polygon | MultiPolygon:
    """Outline less columns, drawn in by the perimeter joint with shapely's own mitred buffer."""
    outline = room.shape
    assert isinstance(outline, Outline)
    columns = [Polygon(column.outline) for column in room.obstructions if column.outline]
    floor = Polygon(outline.ring, outline.holes).difference(shapely.union_all(columns))
    return floor.buffer(-room.perimeter_joint, join_style="mitre", mitre_limit=5.0)


def own_corner(room: Room) -> Point:
    """The low corner of the room's bounding box, in by the perimeter joint on both axes."""
    outline = room.shape
    assert isinstance(outline, Outline)
    xs, ys = zip(*outline.ring, strict=True)
    return min(xs) + room.perimeter_joint, min(ys) + room.perimeter_joint


@settings(max_examples=80, deadline=None)
@given(closed_rooms())
def test_counts_agree_on_a_field_of_shapelys_own(room: Room) -> None:
    """Nothing here comes from the take-off: field by shapely's buffer, start from the bounding box."""
    try:
        shape = floor_shape(room)
    except InputError:
        assume(False)
        raise
    field = own_field(room)
    assert shape.field.symmetric_difference(field).area == pytest.approx(0.0, abs=1.0)
    check(lay_out(room, shape, VALUES), count(room, field, own_corner(room)))
