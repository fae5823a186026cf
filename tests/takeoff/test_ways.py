"""Shortest ways over a floor: by hand, and against ways over a fine grid."""

from __future__ import annotations

from heapq import heappop, heappush
from math import acos, hypot, pi, sqrt

import numpy as np
import pytest
from shapely import Point, Polygon, contains_xy

from service.takeoff import falls, take_off
from service.takeoff.levels import ground_mm
from service.takeoff.room import Doorway, Job, Obstruction, Outline, Room
from service.takeoff.waterproofing_rules import fall_mm, furthest_from_drain_mm
from service.takeoff.ways import longest_way_mm, shortest_ways_mm
from tests.takeoff.floors import US, room, shape
from tests.takeoff.rooms import LABOUR

ELL = ((0.0, 0.0), (4000.0, 0.0), (4000.0, 1000.0), (1000.0, 1000.0), (1000.0, 4000.0), (0.0, 4000.0))
HORSESHOE = (
    *((0.0, 0.0), (5000.0, 0.0), (5000.0, 4000.0), (4000.0, 4000.0)),
    *((4000.0, 1000.0), (1000.0, 1000.0), (1000.0, 4000.0), (0.0, 4000.0)),
)
COLUMN = Polygon([(0, 0), (4000, 0), (4000, 3000), (0, 3000)], [Point(2000, 1500).buffer(1000, 64).exterior])


def hand_ell() -> float:
    """From (3000, 500) around (1000, 1000) to (0, 4000)."""
    return hypot(2000, 500) + hypot(1000, 3000)


def drained(ring: tuple[tuple[float, float], ...], drain: tuple[float, float]) -> Room:
    return room(
        shape=Outline(ring, walls=tuple(range(len(ring)))),
        falls="point",
        exposure="wet",
        waterproof=True,
        obstructions=(Obstruction("drain", centre=drain, diameter=110),),
        doorways=(Doorway(len(ring) - 1, 1000, 800),),
    )


def test_around_one_corner_and_around_two() -> None:
    assert longest_way_mm(((0, 4000),), ((3000, 500),), Polygon(ELL)) == pytest.approx(hand_ell())
    way = 2 * hypot(500, 2500) + 3000  # from the middle of one leg's side to that of the other
    assert longest_way_mm(((500, 3500),), ((4500, 3500),), Polygon(HORSESHOE)) == pytest.approx(way)


def test_around_a_round_column() -> None:
    """Two tangents and the arc between, of a column of radius 1 m on the straight line (geometry)."""
    tangent = sqrt(1900**2 - 1000**2)
    arc = 1000 * (pi - 2 * acos(1000 / 1900))
    way = shortest_ways_mm(((100.0, 1500.0),), ((3900.0, 1500.0),), COLUMN)[0]
    assert way == pytest.approx(2 * tangent + arc, rel=2e-3)


@pytest.mark.parametrize("sides", [1, 16])
def test_around_fifty_columns(sides: int) -> None:
    """Square or round, as many as a room may have: the way is longer than the straight line, and ends."""
    columns = [Point(x, y).buffer(150, sides) for x in range(500, 5500, 500) for y in range(500, 3000, 500)]
    floor = Polygon([(0, 0), (6000, 0), (6000, 3000), (0, 3000)], [each.exterior for each in columns])
    way = shortest_ways_mm(((100.0, 1510.0),), ((5900.0, 1490.0),), floor)[0]
    assert 5800 < way < 6300


@pytest.mark.parametrize("ring", [ELL, HORSESHOE])
def test_against_ways_over_a_grid(ring: tuple[tuple[float, float], ...]) -> None:
    """Steps of a grid to neighbours up to three nodes off, which make ways at most 1.4 percent too long."""
    floor, goal = Polygon(ring), (500.0, 3900.0)
    grid = grid_ways(floor, goal, 100.0)
    ways = shortest_ways_mm(tuple(grid), (goal,), floor)
    over = np.array(list(grid.values())) / np.maximum(ways, 1.0)
    assert (over[ways > 0] > 1 - 1e-9).all()
    assert over.max() < 1.03


def grid_ways(floor: Polygon, goal: tuple[float, float], step: float) -> dict[tuple[float, float], float]:
    """Dijkstra over the nodes of a grid within the floor."""
    ground = floor.buffer(0.01)
    hops = [(i, j) for i in range(-3, 4) for j in range(-3, 4) if np.gcd(i, j) == 1]
    known: dict[tuple[float, float], float] = {}
    queue = [(0.0, goal)]
    while queue:
        way, (x, y) = heappop(queue)
        if (x, y) in known:
            continue
        known[x, y] = way
        for i, j in hops:
            along = [(x + i * step * t, y + j * step * t) for t in (1 / 3, 2 / 3, 1.0)]
            if contains_xy(ground, *np.array(along).T).all():
                heappush(queue, (way + step * hypot(i, j), along[-1]))
    return known


def test_screed_door_and_fall_go_around_the_corner() -> None:
    """Slope, mean depth and the height in the doorway follow the way that the water takes."""
    floor = drained(ELL, (3000, 500))
    form = shape(floor)
    least = US.number("falls.least_depth")
    assert furthest_from_drain_mm(floor, form) == pytest.approx(hand_ell(), rel=1e-6)
    assert falls.mean_depth_mm(floor, form, US) == pytest.approx(least + 2 / 3 * fall_mm(hand_ell(), US))
    assert ground_mm(floor, form, form.openings[0], US) == pytest.approx(least + fall_mm(hand_ell(), US))


def test_a_drain_of_their_own_is_excluded() -> None:
    answer = take_off(Job((drained(ELL, (3000, 500)),)), US, LABOUR)
    assert any("A further drain is not in the price." in said for said in answer.exclusions)
    assert any("by the shortest way over the floor" in said for said in answer.assumptions)
    seen = take_off(Job((drained(ELL, (500, 500)),)), US, LABOUR)
    assert not any("further drain" in said for said in seen.exclusions)


def test_many_corners_are_simplified_within_their_slack() -> None:
    teeth = [(float(x), 1000.0 + 0.5 * (x % 20)) for x in range(3000, 1000, -10)]
    floor = Polygon([(0, 0), (4000, 0), (4000, 1000), *teeth, (1000, 1000), (1000, 4000), (0, 4000)])
    assert longest_way_mm(((0, 4000),), ((3000, 500),), floor) == pytest.approx(hand_ell(), rel=0.01)
