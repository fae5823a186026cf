"""Room shapes against shapely, textbook polygon figures and hand counts."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon, affinity

from service.takeoff.errors import InputError
from service.takeoff.geometry import FloorShape, floor_shape
from service.takeoff.room import BareArea, Doorway, Obstruction, Outline, Room, Tile, Zone
from tests.takeoff.outlines import rectangle, rectilinear, room_of, star

L_ROOM = ((0, 0), (4000, 0), (4000, 3000), (2000, 3000), (2000, 5000), (0, 5000))


def box(x: float, y: float, w: float, h: float) -> tuple[tuple[float, float], ...]:
    return ((x, y), (x + w, y), (x + w, y + h), (x, y + h))


def shape_of(ring: tuple[tuple[float, float], ...] = L_ROOM, **given_: object) -> FloorShape:
    return floor_shape(room_of(ring, **given_))


def corners(shape: FloorShape) -> tuple[int, int]:
    return shape.measures.inside_corners, shape.measures.outside_corners


def test_rectangle_measures() -> None:
    m = shape_of(rectangle(3600, 2400)).measures
    assert (m.floor_area_m2, m.perimeter_m, m.wall_length_m) == pytest.approx((8.64, 12.0, 12.0))


def test_wall_band_example() -> None:
    """4 x 3 m with a 0.9 m door: 14 - 0.9 = 13.1 m and 4 inside corners (derived by hand)."""
    shape = shape_of(rectangle(4000, 3000), doorways=(Doorway(0, 400, 900),))
    assert shape.measures.wall_length_m == pytest.approx(13.1)
    assert corners(shape) == (4, 0)


def test_l_room_has_five_inside_corners_and_one_outside() -> None:
    assert corners(shape_of()) == (5, 1)


@pytest.mark.parametrize("ring", [L_ROOM, L_ROOM[::-1]])
def test_either_winding_counts_the_same_and_keeps_the_callers_edges(
    ring: tuple[tuple[float, float], ...],
) -> None:
    shape = shape_of(ring)
    assert corners(shape) == (5, 1)
    assert [(e.start, e.end) for e in shape.edges] == list(zip(ring, ring[1:] + ring[:1], strict=True))


def test_a_point_on_a_straight_wall_is_no_corner() -> None:
    shape = shape_of(((0, 0), (1500, 0), (4000, 0), (4000, 3000), (0, 3000)))
    assert corners(shape) == (4, 0)


def test_free_square_column_has_four_outside_corners() -> None:
    shape = shape_of(rectangle(4000, 3000), obstructions=(Obstruction("column", box(1000, 1000, 300, 300)),))
    assert corners(shape) == (4, 4)
    assert shape.measures.floor_area_m2 == pytest.approx(12 - 0.09)
    assert shape.measures.wall_length_m == pytest.approx(14 + 1.2)
    assert shape.measures.perimeter_m == pytest.approx(14.0)


def test_column_against_a_wall_changes_the_wall() -> None:
    """300 x 200 at a wall: the wall loses 300, the column adds 200 + 300 + 200; 2 more of each corner."""
    shape = shape_of(rectangle(4000, 3000), obstructions=(Obstruction("column", box(1000, 0, 300, 200)),))
    assert corners(shape) == (6, 2)
    assert shape.measures.wall_length_m == pytest.approx(14.4)


def test_column_in_a_corner() -> None:
    shape = shape_of(rectangle(4000, 3000), obstructions=(Obstruction("fixture", box(0, 0, 300, 300)),))
    assert corners(shape) == (5, 1)
    assert shape.measures.wall_length_m == pytest.approx(14.0)


def test_column_against_an_oblique_wall_leaves_no_chink() -> None:
    """A column set on a wall at 30 degrees by coordinates rounded to a tenth of a micrometre."""
    turned = affinity.rotate(Polygon(rectangle(4000, 3000)), 30, origin=(0, 0))
    column = affinity.rotate(Polygon(box(1000, 0, 300, 200)), 30, origin=(0, 0))
    ring = tuple((x, y) for x, y in list(turned.exterior.coords)[:-1])
    corner = tuple((round(x, 4), round(y, 4)) for x, y in list(column.exterior.coords)[:-1])
    shape = shape_of(ring, obstructions=(Obstruction("column", corner),))
    assert corners(shape) == (6, 2)
    assert shape.measures.wall_length_m == pytest.approx(14.4, abs=1e-5)


def test_round_column_has_no_corners() -> None:
    shape = shape_of(
        rectangle(4000, 3000), obstructions=(Obstruction("column", centre=(2000, 1500), diameter=500),)
    )
    assert corners(shape) == (4, 0)
    assert shape.measures.floor_area_m2 == pytest.approx(12 - math.pi / 16, abs=1e-9)
    assert shape.measures.wall_length_m == pytest.approx(14 + math.pi / 2, rel=1e-3)


def test_stair_takes_floor_but_is_no_wall() -> None:
    """A stair of 1000 x 800 in a corner hides 1.8 m of wall; where it meets the walls is no corner."""
    shape = shape_of(rectangle(4000, 3000), obstructions=(Obstruction("stair", box(0, 0, 1000, 800)),))
    assert shape.measures.floor_area_m2 == pytest.approx(12 - 0.8)
    assert shape.measures.wall_length_m == pytest.approx(14 - 1.8)
    assert corners(shape) == (3, 0)
    assert shape.field.contains(Polygon(box(500, 801, 100, 100)))


@pytest.mark.parametrize("kind", ["drain", "pipe", "hatch"])
def test_drains_pipes_and_hatches_take_no_floor(kind: str) -> None:
    shape = shape_of(obstructions=(Obstruction(kind, centre=(900, 1200), diameter=110),))  # type: ignore[arg-type]
    assert shape.measures == shape_of().measures


def test_corner_at_an_open_edge_is_none() -> None:
    shape = shape_of(rectangle(4000, 3000), walls=(0, 1, 3))
    assert corners(shape) == (2, 0)
    assert [e.number for e in shape.open_edges] == [2]
    assert shape.measures.wall_length_m == pytest.approx(10.0)


def test_hole_in_the_outline_counts_as_walls() -> None:
    shape = floor_shape(room_of(rectangle(4000, 3000), holes=(box(1000, 1000, 500, 500),)))
    assert corners(shape) == (4, 4)
    assert shape.measures.perimeter_m == pytest.approx(16.0)
    assert [e.number for e in shape.edges] == list(range(8))


def test_field_of_a_rectangle() -> None:
    assert shape_of(rectangle(3015, 2109)).field.equals(Polygon(box(6, 6, 3003, 2097)))


def test_field_reaches_the_line_at_a_doorway_with_square_jambs() -> None:
    shape = shape_of(rectangle(4000, 3000), doorways=(Doorway(0, 400, 900),))
    expected = Polygon(box(6, 6, 3988, 2988)).union(Polygon(box(400, 0, 900, 6)))
    assert shape.field.equals(expected)


def test_field_reaches_an_open_edge() -> None:
    shape = shape_of(rectangle(4000, 3000), walls=(0, 1, 3))
    assert shape.field.equals(Polygon(box(6, 6, 3988, 2994)))


def test_field_is_mitred_at_a_sharp_outside_corner_up_to_five_depths() -> None:
    ring = ((0, 0), (4000, 0), (4000, 3000), (2050, 3000), (2000, 1500), (1950, 3000), (0, 3000))
    expected = Polygon(ring).buffer(-6, join_style="mitre")
    assert shape_of(ring).field.symmetric_difference(expected).area < 1.0


@settings(max_examples=60, deadline=None)
@given(st.one_of(rectilinear(), star()), st.sampled_from([0.0, 3.0, 6.0, 12.5]))
def test_field_of_a_walled_room_is_the_mitred_inner_buffer(outline: Outline, depth: float) -> None:
    """Against shapely's own buffer, which straightens concave runs by up to a hundredth of the depth."""
    room = Room("r", outline, Tile(300, 300), perimeter_joint=depth)
    try:
        field = floor_shape(room).field
    except InputError:
        return
    polygon = Polygon(outline.ring, outline.holes)
    expected = polygon.buffer(-depth, join_style="mitre")
    assert field.symmetric_difference(expected).area <= 0.02 * depth * polygon.length + 1e-6


@settings(max_examples=60, deadline=None)
@given(st.one_of(rectilinear(), star()))
def test_measures_agree_with_shapely(outline: Outline) -> None:
    polygon = Polygon(outline.ring, outline.holes)
    m = floor_shape(Room("r", outline, Tile(300, 300), perimeter_joint=0)).measures
    assert m.floor_area_m2 == pytest.approx(polygon.area / 1e6, rel=1e-9)
    assert m.perimeter_m == pytest.approx(polygon.length / 1e3, rel=1e-9)
    assert m.wall_length_m == pytest.approx(polygon.length / 1e3, rel=1e-9)


@settings(max_examples=60, deadline=None)
@given(rectilinear())
def test_right_angled_rooms_have_four_more_inside_corners_than_outside(outline: Outline) -> None:
    """Turning angles add up to one turn for the outline and one back for each hole (textbook geometry)."""
    m = floor_shape(Room("r", outline, Tile(300, 300), perimeter_joint=0)).measures
    assert m.inside_corners - m.outside_corners == 4 - 4 * len(outline.holes)


def test_bare_area_becomes_the_rectangle_of_its_measures() -> None:
    room = Room("r", BareArea(12.0, 14000), Tile(300, 300))
    shape = floor_shape(room)
    assert not shape.laid_out
    assert sorted({round(e.length, 6) for e in shape.edges}) == [3000, 4000]
    assert corners(shape) == (4, 0)
    assert floor_shape(replace(room, shape=BareArea(9.0, 12000))).measures.perimeter_m == pytest.approx(12)


BAD: list[tuple[str, dict[str, object]]] = [
    ("/outline", {"ring": ((0, 0), (1000, 1000), (1000, 0), (0, 1000))}),
    ("/outline", {"ring": ((0, 0), (1000, 0), (2000, 0))}),
    ("/outline", {"ring": ((0, 0), (1000, 0))}),
    ("/outline", {"ring": ((0, 0), (1000, 0), (1000, 0), (0, 1000))}),
    ("/outline", {"ring": ((0, 0), (1000, 0), (1000, 1000), (0, 0))}),
    ("/outline", {"ring": ((0, 0), (math.nan, 0), (1000, 1000))}),
    ("/outline", {"ring": ((0, 0), (math.inf, 0), (1000, 1000))}),
    ("/outline", {"ring": ((0, 0), (1.1e6, 0), (1.1e6, 1000), (0, 1000))}),
    ("/outline", {"ring": box(1e9, 0, 1000, 1000)}),
    ("/outline", {"ring": tuple((i, i * i) for i in range(1001))}),
    ("/holes/0", {"holes": (box(-10, 10, 100, 100),)}),
    ("/holes/0", {"holes": (box(5000, 5000, 100, 100),)}),
    ("/holes/1", {"holes": (box(100, 100, 100, 100), box(150, 150, 100, 100))}),
    ("/walls", {"walls": (0, 6)}),
    ("/walls", {"walls": (-1,)}),
    ("/doorways/0", {"doorways": (Doorway(0, 3500, 900),)}),
    ("/doorways/0", {"doorways": (Doorway(0, -1, 900),)}),
    ("/doorways/0", {"doorways": (Doorway(0, 0, 0),)}),
    ("/doorways/0", {"doorways": (Doorway(0, math.nan, 900),)}),
    ("/doorways/0", {"doorways": (Doorway(6, 0, 900),)}),
    ("/doorways/0", {"walls": (1, 2), "doorways": (Doorway(0, 0, 900),)}),
    ("/doorways/1", {"doorways": (Doorway(0, 100, 900), Doorway(0, 999, 900))}),
    ("/obstructions/0", {"obstructions": (Obstruction("column", box(3000, 4000, 300, 300)),)}),
    ("/obstructions/0", {"obstructions": (Obstruction("column", box(3900, 100, 300, 300)),)}),
    ("/obstructions/0", {"obstructions": (Obstruction("drain"),)}),
    ("/obstructions/0/diameter", {"obstructions": (Obstruction("column", centre=(500, 500)),)}),
    ("/obstructions/0/diameter", {"obstructions": (Obstruction("drain", centre=(500, 500), diameter=-1),)}),
    ("/obstructions/0/centre", {"obstructions": (Obstruction("pipe", centre=(math.nan, 5)),)}),
    (
        "/obstructions/1",
        {"obstructions": tuple(Obstruction("column", box(x, 500, 300, 300)) for x in (500, 700))},
    ),
    ("/obstructions", {"obstructions": (Obstruction("fixture", L_ROOM),)}),
    ("/zones/0", {"zones": (Zone(box(3000, 2500, 900, 900), "wet"),)}),
    ("/perimeter_joint", {"perimeter_joint": -1.0}),
    ("/perimeter_joint", {"perimeter_joint": 2000.0}),
]


@pytest.mark.parametrize(("pointer", "wrong"), BAD)
def test_rooms_that_cannot_be_are_refused_by_name(pointer: str, wrong: dict[str, object]) -> None:
    with pytest.raises(InputError) as refused:
        shape_of(**wrong)  # type: ignore[arg-type]
    assert refused.value.pointer == pointer


@pytest.mark.parametrize(
    ("pointer", "bare"),
    [
        ("/perimeter", BareArea(12.0, 13000)),
        ("/perimeter", BareArea(12.0, math.nan)),
        ("/area_m2", BareArea(0.0, 13000)),
    ],
)
def test_areas_that_cannot_be_are_refused(pointer: str, bare: BareArea) -> None:
    with pytest.raises(InputError) as refused:
        floor_shape(Room("r", bare, Tile(300, 300)))
    assert refused.value.pointer == pointer


def test_neighbouring_doorways_and_columns_may_touch() -> None:
    shape_of(
        doorways=(Doorway(0, 100, 900), Doorway(0, 1000, 900)),
        obstructions=(
            Obstruction("column", box(500, 500, 300, 300)),
            Obstruction("column", box(800, 500, 300, 300)),
        ),
    )
