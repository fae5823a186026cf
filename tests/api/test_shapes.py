"""A room's shape in each of its forms, as the outline that it means."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon, box, unary_union

from service.api.schemas.job import shape_pointer
from service.api.schemas.shapes import edge_lengths
from service.takeoff.room import BareArea
from tests.api.rooms import SQUARE, TILE, outline, refused, room


def test_a_rectangle_has_wall_0_along_x_at_y_0() -> None:
    made = outline(room(rectangle={"length": "3.6 m", "width": "7 ft 10 1/2 in"}))
    assert made.ring == ((0, 0), (3600, 0), (3600, 2400.3), (0, 2400.3))
    assert edge_lengths(made)[0] == 3600


def test_walls_are_numbered_in_the_callers_order_and_the_rest_is_open() -> None:
    clockwise = SQUARE[::-1]
    made = outline(room(outline=clockwise, walls=[2, 0, 0]))
    assert made.ring == tuple(map(tuple, clockwise))
    assert made.walls == (0, 2)


def test_parts_add_and_take_away() -> None:
    ell = [
        {"op": "add", "at": [0, 0], "length": 4000, "width": 3000},
        {"op": "subtract", "at": [2500, 2000], "length": 1500, "width": 1000},
    ]
    made = outline(room(parts=ell))
    assert made.ring == ((0, 0), (4000, 0), (4000, 2000), (2500, 2000), (2500, 3000), (0, 3000))
    assert made.holes == ()


def test_a_part_taken_from_the_middle_is_a_hole_with_walls_of_its_own() -> None:
    court = [
        {"op": "add", "at": [0, 0], "length": 5000, "width": 5000},
        {"op": "subtract", "at": [2000, 2000], "length": 1000, "width": 1000},
    ]
    made = outline(room(parts=court))
    assert len(made.holes) == 1
    assert made.walls == tuple(range(8))
    assert edge_lengths(made) == [5000.0] * 4 + [1000.0] * 4


RECTANGLES = st.tuples(*[st.integers(0, 40)] * 2, *[st.integers(5, 40)] * 2)


@given(st.lists(RECTANGLES, min_size=1, max_size=5))
def test_added_parts_have_the_area_that_shapely_finds(rectangles: list[tuple[int, int, int, int]]) -> None:
    parts = [
        {"op": "add", "at": [x * 100, y * 100], "length": w * 100, "width": d * 100}
        for x, y, w, d in rectangles
    ]
    whole = unary_union([box(x * 100, y * 100, (x + w) * 100, (y + d) * 100) for x, y, w, d in rectangles])
    if whole.geom_type != "Polygon":
        assert refused({"tile": TILE, "parts": parts}) == ["/rooms/0/parts"]
        return
    made = outline(room(parts=parts))
    polygon = Polygon(made.ring, made.holes)
    assert polygon.is_valid
    assert polygon.exterior.is_ccw
    assert polygon.equals(whole)
    for ring in (made.ring, *made.holes):
        upright = [start[0] == end[0] for start, end in zip(ring, (*ring[1:], ring[0]), strict=True)]
        level = [start[1] == end[1] for start, end in zip(ring, (*ring[1:], ring[0]), strict=True)]
        assert upright == [not each for each in level]
        assert all(one != other for one, other in pairwise([*upright, upright[0]])), "a corner at every point"
        assert ring[0] == min(ring)


def test_a_run_of_walls_closes_by_itself() -> None:
    run = [{"length": length, "turn": "left"} for length in (4000, 3000, 4000, 3000)]
    made = outline(room(walls_run=run))
    assert made.ring == ((0, 0), (4000, 0), (4000, 3000), (0, 3000))
    assert made.closing_error == 0


def test_a_run_to_the_right_goes_clockwise() -> None:
    run = [{"length": length, "turn": "right"} for length in (4000, 3000, 4000, 3000)]
    assert outline(room(walls_run=run)).ring == ((0, 0), (4000, 0), (4000, -3000), (0, -3000))


def test_a_run_that_misses_its_start_is_told_and_spread_over_the_walls() -> None:
    """Transit rule: 12 mm too far in x over 4012 + 4000 mm of walls, 5 mm short in y over 2997 + 3002."""
    run = [{"length": length, "turn": "left"} for length in (4012, 2997, 4000, 3002)]
    made = outline(room(walls_run=run))
    assert made.closing_error == pytest.approx(math.hypot(12, 5))
    lengths = edge_lengths(made)
    assert lengths[0] == pytest.approx(4012 - 12 * 4012 / 8012)
    assert lengths[0] == pytest.approx(lengths[2])
    assert lengths[1] == pytest.approx(2997 + 5 * 2997 / 5999)
    assert lengths[1] == pytest.approx(lengths[3])
    assert Polygon(made.ring).area == pytest.approx(lengths[0] * lengths[1]), "the corners stay square"


def test_an_area_with_a_perimeter_is_an_allowance() -> None:
    assert room(area_m2=12, perimeter="14 m").shape == BareArea(12, 14000)


@pytest.mark.parametrize(
    ("shape", "pointer"),
    [
        ({"walls_run": [{"length": 1000, "turn": "left"}] * 3}, "/rooms/0/walls_run"),
        ({"walls_run": [{"length": 1000, "turn": "left"}] * 5}, "/rooms/0/walls_run"),
        (
            {"walls_run": [{"length": n, "turn": "left"} for n in (4000, 3000, 3500, 3000)]},
            "/rooms/0/walls_run",
        ),
        ({"area_m2": 12}, "/rooms/0/perimeter"),
        ({"area_m2": 12, "perimeter": "13 m"}, "/rooms/0/perimeter"),
        ({"area_m2": 0, "perimeter": "13 m"}, "/rooms/0/area_m2"),
        (
            {"area_m2": 12, "perimeter": "14 m", "doorways": [{"wall": 0, "offset": 0, "width": 800}]},
            "/rooms/0/doorways",
        ),
        ({"parts": [{"op": "subtract", "at": [0, 0], "length": 1, "width": 1}]}, "/rooms/0/parts"),
        (
            {
                "parts": [
                    {"op": "add", "at": [0, 0], "length": 1000, "width": 1000},
                    {"op": "add", "at": [1000, 1000], "length": 1000, "width": 1000},
                ]
            },
            "/rooms/0/parts",
        ),
    ],
)
def test_shapes_that_are_none_are_refused(shape: dict[str, Any], pointer: str) -> None:
    assert refused({"tile": TILE, **shape}) == [pointer]


def test_a_fault_of_the_outline_points_at_what_the_caller_gave() -> None:
    data = {"rooms": [{"outline": SQUARE}, {"parts": []}]}
    assert shape_pointer(data, "/rooms/0/outline") == "/rooms/0/outline"
    assert shape_pointer(data, "/rooms/1/outline/3") == "/rooms/1/parts"
    assert shape_pointer(data, "/rooms/1/doorways/0") == "/rooms/1/doorways/0"
