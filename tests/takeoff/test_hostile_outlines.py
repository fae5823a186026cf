"""Outlines that nobody measured: a floor that satisfies the invariants, or a refusal that points at it."""

from __future__ import annotations

import math
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon

from service.takeoff import take_off
from service.takeoff.answer import Takeoff
from service.takeoff.errors import InputError
from service.takeoff.room import Job, Point, Ring, Tile
from service.trade.values import load_trade_values
from tests.takeoff.outlines import room_of
from tests.takeoff.rooms import LABOUR

VALUES = load_trade_values("us", date(2026, 6, 1))
SIZES = st.sampled_from([1e-9, 1e-6, 0.01, 1.0, 300.0, 3000.0, 20_000.0, 999_999.0])
NEAR = st.sampled_from([0.0, 1e-12, 1e-9, 1e-7, 1e-4, 0.05, 1.0])


@st.composite
def any_points(draw: st.DrawFn) -> Ring:
    """Corners anywhere on a coarse grid: collinear, double, crossing and touching ones are common."""
    size, most = draw(SIZES), draw(st.integers(3, 8))
    grid = st.tuples(st.integers(0, 4), st.integers(0, 4))
    return tuple((x * size, y * size) for x, y in draw(st.lists(grid, min_size=3, max_size=most)))


@st.composite
def nearly_touching(draw: st.DrawFn) -> Ring:
    """A room whose notch ends so close to the wall across, or beyond it."""
    across, left = draw(st.sampled_from([2000.0, 4000.0])), draw(NEAR) * draw(st.sampled_from([-1.0, 1.0]))
    middle, slope = across / 2, draw(NEAR)
    return (
        (0.0, 0.0),
        (across, 0.0),
        (across, 3000.0),
        (middle + slope, 3000.0),
        (middle, left),
        (middle - slope, 3000.0),
        (0.0, 3000.0),
    )


@st.composite
def doubled(draw: st.DrawFn) -> Ring:
    """A rectangle with corners that come again, a hair away, or on the straight between two."""
    length, width, hair = draw(SIZES), draw(SIZES), draw(NEAR)
    plain: list[Point] = [(0.0, 0.0), (length, 0.0), (length, width), (0.0, width)]
    place = draw(st.integers(0, 3))
    x, y = plain[place]
    (x2, y2) = plain[(place + 1) % 4]
    more = draw(st.sampled_from([(x, y), (x + hair, y), (x, y + hair), ((x + x2) / 2, (y + y2) / 2 + hair)]))
    return (*plain[: place + 1], more, *plain[place + 1 :])


def holds(answer: Takeoff, ring: Ring) -> None:
    """Area as shapely has it; pieces, tiles and areas that fit each other; nothing that is no number."""
    (room,) = answer.rooms
    area = Polygon(ring).area / 1e6
    assert math.isclose(room.measures.floor_area_m2, area, rel_tol=1e-6, abs_tol=1e-9)
    layout = room.layout
    assert 0 <= layout.tiled_area_m2 <= area + 1e-9
    assert layout.tiles_lower_bound <= layout.tiles_needed <= layout.pieces
    assert layout.pieces >= layout.whole_tiles + layout.cut_tiles
    figures = [each.with_allowance for each in answer.materials] + [each.hours for each in answer.labour]
    assert all(math.isfinite(figure) and figure >= 0 for figure in figures)


OUTLINES = st.one_of(any_points(), nearly_touching(), doubled())
ORIGINS = st.sampled_from(["corner", "best"])


def built_or_refused(ring: Ring, origin: str) -> None:
    job = Job((room_of(ring, origin=origin, tile=Tile(300, 300)),))
    try:
        answer = take_off(job, VALUES, LABOUR)
    except InputError as fault:
        refused = fault
    else:
        holds(answer, ring)
        return
    assert refused.pointer.startswith("/rooms")
    assert refused.detail


@settings(max_examples=25)
@given(OUTLINES, ORIGINS)
def test_a_floor_that_holds_or_a_refusal_that_points_at_it(ring: Ring, origin: str) -> None:
    built_or_refused(ring, origin)


@pytest.mark.full
@settings(max_examples=1000)
@given(OUTLINES, ORIGINS)
def test_the_same_of_many_more(ring: Ring, origin: str) -> None:
    built_or_refused(ring, origin)
