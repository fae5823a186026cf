"""Flatness limits against published standards; volumes of compound and falls against integrals."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import ceil
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Point, Polygon, contains_xy

from service.takeoff import falls, levelling, survey
from service.takeoff.room import Flatness, Membrane, Obstruction, Outline, Reading, Room, Substrate, Tile
from service.takeoff.waterproofing_rules import fall_mm
from service.trade.values import TradeValues
from tests.takeoff.floors import DE, UK, US, bill, layout, room, shape, verdicts, work

LARGE = Tile(600, 600)


def uneven(gap: float, under: float = 3000, **said: Any) -> Room:
    return room(substrate=Substrate("concrete_on_ground", flatness=Flatness(gap, under)), **said)


@pytest.mark.parametrize(
    ("values", "tile", "under", "gap"),
    [
        (US, Tile(300, 300), 3000, 6),  # ANSI A108.02: 1/4 in in 10 ft
        (US, Tile(300, 300), 300, 1.5),  # and 1/16 in in 12 in
        (US, LARGE, 3000, 3),  # 1/8 in in 10 ft from an edge of 15 in
        (US, Tile(380.9, 300), 3000, 6),
        (US, Tile(300, 381), 3000, 3),
        (US, LARGE, 600, 1.5),  # and 1/16 in in 24 in
        (UK, LARGE, 3000, 3),  # NHBC Standards 9.3.5
        (UK, Tile(300, 300), 2000, 3),  # BS 8204 SR1
        (DE, Tile(300, 300), 1000, 4),  # DIN 18202 table 3 row 3, from memory
        (DE, Tile(300, 300), 4000, 10),
        (DE, LARGE, 1000, 3),  # row 4
        (DE, LARGE, 4000, 9),
        (DE, LARGE, 2000, 5),  # between the lengths in a straight line
    ],
)
def test_allowed_gap(values: TradeValues, tile: Tile, under: float, gap: float) -> None:
    assert levelling.allowed_gap_mm(room(tile=tile), under, values) == pytest.approx(gap)


@given(st.floats(100, 6000))
def test_allowed_gap_against_numpy(under: float) -> None:
    expected = np.interp(under, [600, 3000], [1.5, 3])
    assert levelling.allowed_gap_mm(room(tile=LARGE), under, US) == pytest.approx(float(expected))


def test_compound_by_hand() -> None:
    """12 m2, mean 5 mm, 1.7 kg for each m2 and mm: 102 kg, with 5 % loss still 5 bags of 25 kg."""
    floor = uneven(10, length=4000, width=3000)
    made = bill(levelling.take(floor, shape(floor), layout(12), US))["levelling_compound"]
    assert made.required == pytest.approx(102)
    assert ceil(made.with_allowance / 25) == 5
    assert [(f.attribute, f.at_least) for f in made.fitness] == [("max_depth_mm", 10)]


@pytest.mark.parametrize(("inches", "fewest", "most"), [(1 / 8, 40, 50), (1 / 4, 20, 25), (1 / 2, 10, 12.5)])
def test_published_coverage_of_levelling_bags(inches: float, fewest: float, most: float) -> None:
    """ft2 per 50 lb bag as trade texts print it (common practice)."""
    kg_m2 = levelling.compound_kg(1, inches * 25.4, US)
    covered = 22.6796185 / kg_m2 / 0.09290304
    assert fewest <= covered <= most


def test_half_the_worst_gap_is_the_mean_of_a_trough() -> None:
    """A ground folded in a V is filled by half its depth; one sagging in a parabola takes two thirds."""
    x = np.linspace(-1, 1, 200_001)
    sag, fold = 10 * (1 - x**2), 10 * (1 - np.abs(x))
    floor = uneven(10)
    mean = levelling.mean_depth_mm(floor, shape(floor), US)
    assert mean == pytest.approx(float(np.trapezoid(fold, x)) / 2, rel=1e-6)
    assert mean == pytest.approx(float(np.trapezoid(sag, x)) / 2 * 3 / 4, rel=1e-6)


def test_compound_against_the_volume_of_a_known_surface() -> None:
    """A ground sagging as a paraboloid under its rim, read every 250 mm and integrated by hand.

    12 mm deep in the middle of 4 x 3 m and 0 at the corners: depth 12 - 6 (x/2)^2 - 6 (y/1.5)^2, whose mean
    is 12 - 6/3 - 6/3 = 8 mm. Flat triangles between readings lie over a hollow ground: a little less.
    """
    readings = tuple(
        (x, y, 6 * ((x - 2000) / 2000) ** 2 + 6 * ((y - 1500) / 1500) ** 2)
        for x in range(0, 4001, 250)
        for y in range(0, 3001, 250)
    )
    ground = Substrate("concrete_on_ground", levels=readings)
    floor = room(substrate=ground, length=4000, width=3000)
    made = bill(levelling.take(floor, shape(floor), layout(12), US))["levelling_compound"]
    exact = 8 * 12 * US.number("levelling.density")
    assert exact * 0.99 < made.required < exact
    assert [(f.attribute, f.at_least) for f in made.fitness] == [("max_depth_mm", 12)]


@given(st.floats(-20, 20), st.floats(-20, 20), st.floats(-5, 5))
def test_a_tilted_plane_is_filled_to_its_highest_corner(along: float, across: float, height: float) -> None:
    """A wedge holds half its rise each way, whatever plane the level stood in."""
    corners = ((0, 0), (4000, 0), (4000, 3000), (0, 3000))
    readings = tuple((x, y, height + along * x / 4000 + across * y / 3000) for x, y in corners)
    assert survey.fill_mm(readings) == pytest.approx((abs(along) + abs(across)) / 2, abs=1e-9)


L_FLOOR = Polygon([(0, 0), (4000, 0), (4000, 1000), (1000, 1000), (1000, 4000), (0, 4000)])
U_FLOOR = Polygon(
    [(0, 0), (4000, 0), (4000, 3000), (3000, 3000), (3000, 1000), (1000, 1000), (1000, 3000), (0, 3000)]
)
COLUMN_FLOOR = Polygon(
    [(0, 0), (4000, 0), (4000, 3000), (0, 3000)], [[(2500, 500), (3500, 500), (3500, 2500), (2500, 2500)]]
)


def read_on(floor: Polygon, apart: float, height: Callable[[float, float], float]) -> tuple[Reading, ...]:
    """Read at the corners, and on a grid where the level could stand."""
    grid = [(float(x), float(y)) for x in np.arange(0, 4001, apart) for y in np.arange(0, 4001, apart)]
    places = {*floor.exterior.coords, *(place for place in grid if floor.covers(Point(place)))}
    return tuple((x, y, height(x, y)) for x, y in sorted(places))


@pytest.mark.parametrize("floor", [L_FLOOR, U_FLOOR, COLUMN_FLOOR])
@pytest.mark.parametrize("apart", [250, 5000])
def test_a_wedge_under_the_floor_itself(floor: Polygon, apart: float) -> None:
    """Over a plane z = 0.005 x the mean depth is that at the floor's centroid (exact integral).

    The L of 4000 mm legs 1000 mm wide: 20 - 0.005 (4 x 2000 + 3 x 500) / 7 = 13.214 mm.
    """
    readings = read_on(floor, apart, lambda x, y: 0.005 * x)
    assert survey.fill_mm(readings, floor) == pytest.approx(20 - 0.005 * floor.centroid.x, abs=1e-9)
    if floor is L_FLOOR:
        assert survey.fill_mm(readings, floor) == pytest.approx(13.214, abs=1e-3)


@pytest.mark.parametrize("floor", [L_FLOOR, U_FLOOR, COLUMN_FLOOR])
def test_a_curved_ground_under_the_floor_itself(floor: Polygon) -> None:
    """A saddle read every 250 mm against its mean over points 10 mm apart: a surface of second order."""

    def height(x: float, y: float) -> float:
        return 4 * (x / 2000 - 1) ** 2 - 3 * (y / 1500 - 1) ** 2

    x, y = np.meshgrid(np.arange(5, 4000, 10), np.arange(5, 4000, 10))
    depth = 4 - height(x, y)[contains_xy(floor, x, y)].mean()  # type: ignore[index]
    assert survey.fill_mm(read_on(floor, 250, height), floor) == pytest.approx(depth, rel=0.01)


def test_a_floor_read_off_its_walls_only() -> None:
    """What lies beyond all readings goes on along the slope of the ground; the level's own noise does not."""
    floor = Polygon([(0, 0), (4000, 0), (4000, 3000), (0, 3000)])
    inner = tuple((x, y, 0.005 * x) for x in (500.0, 3500.0) for y in (500.0, 2500.0))
    assert survey.fill_mm(inner, floor) == pytest.approx(10)
    huddled = ((2000.0, 1500.0, 0.0), (2010.0, 1500.0, 1.0), (2000.0, 1510.0, 0.0))
    assert 0 < survey.fill_mm(huddled, floor) <= 3


def test_the_floor_laid_out_is_what_is_filled() -> None:
    outline = Outline(tuple(L_FLOOR.exterior.coords)[:-1], walls=tuple(range(6)))
    ground = Substrate("concrete_on_ground", levels=read_on(L_FLOOR, 5000, lambda x, y: 0.005 * x))
    floor = replace(room(substrate=ground), shape=outline)
    made = bill(levelling.take(floor, shape(floor), layout(7), US))["levelling_compound"]
    assert made.required == pytest.approx(7 * 185 / 14 * US.number("levelling.density"))


def test_readings_of_a_flat_ground_take_nothing() -> None:
    ground = Substrate("concrete_on_ground", levels=((0, 0, 100), (3000, 0, 103), (0, 3000, 101)))
    step = levelling.take(room(substrate=ground), shape(room()), layout(), US)
    assert (step.materials, verdicts(step.findings)) == ((), {"flatness": "pass"})


def test_a_heating_cable_that_no_membrane_holds_is_embedded() -> None:
    """10 mm of compound over 12 m2, on a flat ground and over filled hollows alike (common practice)."""
    for gap, depth in ((0, 10), (10, 15)):
        floor = uneven(gap, length=4000, width=3000, heating="electric")
        made = bill(levelling.take(floor, shape(floor), layout(12), US))["levelling_compound"]
        assert made.required == pytest.approx(12 * depth * 1.7)
        held = replace(floor, membrane=Membrane("thick"))
        assert levelling.cable_mm(held, US) == 0


def test_a_flat_floor_takes_nothing() -> None:
    step = levelling.take(uneven(6), shape(room()), layout(), US)
    assert (step.materials, step.work, step.waits) == ((), (), ())
    assert verdicts(step.findings) == {"flatness": "pass"}


def test_an_uneven_floor_is_levelled() -> None:
    step = levelling.take(uneven(7), shape(room()), layout(), US)
    assert work(step) == {"level_setup": 1, "level": pytest.approx(20)}
    assert verdicts(step.findings) == {"flatness": "condition"}
    assert [wait.after for wait in step.waits] == ["level"]
    assert "A108.02" in step.findings[0].source


@pytest.mark.parametrize(
    ("values", "under", "verdict"),
    # ANSI A108.02 judges under 10 ft; BS 8204 and common practice under 2 m.
    [
        *((US, 300, "condition"), (US, 2000, "condition"), (US, 3048, "pass")),
        *((UK, 1000, "condition"), (UK, 2000, "pass"), (DE, 1000, "condition"), (DE, 2000, "pass")),
    ],
)
def test_a_short_straightedge_does_not_tell_the_whole_floor(
    values: TradeValues, under: float, verdict: str
) -> None:
    [found] = levelling.take(uneven(1.4, under), shape(room()), layout(), values).findings
    assert (found.verdict, found.asks) == (verdict, "flatness" if verdict == "condition" else "")


def test_an_unread_floor_asks() -> None:
    step = levelling.take(room(), shape(room()), layout(), US)
    assert step.materials == ()
    assert verdicts(step.findings) == {"flatness": "condition"}


@given(st.floats(0, 60), st.floats(0, 60), st.floats(300, 4000))
def test_a_worse_gap_never_takes_less(one: float, other: float, under: float) -> None:
    low, high = (
        levelling.mean_depth_mm(uneven(gap, under), shape(room()), US) for gap in sorted((one, other))
    )
    assert low <= high


def test_a_quarter_inch_per_foot() -> None:
    """1/4 in per ft over 900 mm: 18.75 mm (plumbing codes)."""
    assert fall_mm(900, US) == pytest.approx(18.75, abs=1e-3)


def drained(x: float, y: float, kind: str, **said: Any) -> Room:
    return room(falls=kind, obstructions=(Obstruction("drain", centre=(x, y)),), **said)


def _fan_mean(polygon: Polygon, drain: tuple[float, float], height: float) -> float:
    """Mean of the surface that is `height` along the outline and 0 at the drain, on a fine grid."""
    corners = np.array(polygon.exterior.coords)
    step = 10.0
    left, low, right, high = polygon.bounds
    x, y = np.meshgrid(np.arange(left + step / 2, right, step), np.arange(low + step / 2, high, step))
    inside = contains_xy(polygon, x, y)
    px, py = x[inside] - drain[0], y[inside] - drain[1]
    surface = np.full(px.shape, np.nan)
    for (ax, ay), (bx, by) in zip(corners[:-1] - drain, corners[1:] - drain, strict=True):
        det = ax * by - bx * ay
        u, v = (px * by - py * bx) / det, (py * ax - px * ay) / det
        wedge = (u >= -1e-12) & (v >= -1e-12)
        surface[wedge] = height * (u + v)[wedge]
    return float(np.nanmean(surface))


@pytest.mark.parametrize("drain", [(2500, 2000), (1000, 900), (4000, 3500)])
def test_point_falls_against_an_integral(drain: tuple[float, float]) -> None:
    floor = drained(*drain, "point")
    form = shape(floor)
    longest = max(np.hypot(x - drain[0], y - drain[1]) for x, y in form.polygon.exterior.coords)
    expected = US.number("falls.least_depth") + _fan_mean(form.polygon, drain, fall_mm(longest, US))
    assert falls.mean_depth_mm(floor, form, US) == pytest.approx(expected, rel=2e-3)


def test_point_falls_in_an_ell_against_an_integral() -> None:
    """The whole outline is seen from the drain, so every plane is one triangle."""
    ring = ((0.0, 0.0), (4000.0, 0.0), (4000.0, 1500.0), (2000.0, 1500.0), (2000.0, 3000.0), (0.0, 3000.0))
    floor = drained(1000, 800, "point", shape=Outline(ring, walls=tuple(range(6))))
    form = shape(floor)
    longest = max(np.hypot(x - 1000, y - 800) for x, y in ring)
    expected = US.number("falls.least_depth") + _fan_mean(form.polygon, (1000, 800), fall_mm(longest, US))
    assert falls.mean_depth_mm(floor, form, US) == pytest.approx(expected, rel=2e-3)


@pytest.mark.parametrize(("x", "y", "mean_way"), [(2500, 0, 2000), (0, 2000, 2500), (60, 2000, None)])
def test_linear_falls_against_an_integral(x: float, y: float, mean_way: float | None) -> None:
    """5 x 4 m: the floor rises from the line through the drain along the wall nearest to it."""
    floor = drained(x, y, "linear")
    if mean_way is None:  # a line 60 mm from the short wall has floor on both sides
        mean_way = float(np.abs((np.arange(500_000) + 0.5) / 100 - x).mean())
    assert falls.linear_way_mm(floor, shape(floor)) == pytest.approx(mean_way, rel=1e-6)


def test_linear_falls_without_a_drain_run_to_the_open_edge() -> None:
    ring = ((0.0, 0.0), (5000.0, 0.0), (5000.0, 4000.0), (0.0, 4000.0))
    balcony = room(falls="linear", shape=Outline(ring, walls=(0, 1, 3)))
    assert falls.linear_way_mm(balcony, shape(balcony)) == pytest.approx(2000)
    assert falls.drain_line(balcony, shape(balcony))[0][1] == 4000
    found = levelling.take(balcony, shape(balcony), layout(), US).findings
    assert verdicts(found)["fall_screed"] == "pass"


def test_fall_screed_by_hand() -> None:
    """5 x 4 m to a line along the long wall: 2000 mm mean way, 41.67 + 10 mm, 20 m2, 2 kg: 2066.6 kg."""
    floor = drained(2500, 0, "linear")
    step = levelling.take(floor, shape(floor), layout(), US)
    made = bill(step)
    assert set(made) == {"fall_screed"}
    assert made["fall_screed"].required == pytest.approx(2066.6, abs=0.1)
    assert work(step) == {"fall_screed": pytest.approx(20)}
    assert verdicts(step.findings) == {"flatness": "condition", "fall_screed": "pass"}


@pytest.mark.parametrize("kind", ["point", "linear"])
def test_falls_without_a_drain_are_an_assumption(kind: Any) -> None:
    floor = room(falls=kind)
    step = levelling.take(floor, shape(floor), layout(), US)
    assert verdicts(step.findings)["fall_screed"] == "condition"
    assert bill(step)["fall_screed"].required > 0


def test_a_second_drain_takes_no_more_screed() -> None:
    one = drained(2500, 2000, "point")
    two = room(falls="point", obstructions=(*one.obstructions, Obstruction("drain", centre=(500, 500))))
    assert falls.mean_depth_mm(two, shape(two), US) <= falls.mean_depth_mm(one, shape(one), US)
