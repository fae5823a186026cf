"""How quickly starts are tried: ratios in one run against clipping every tile with shapely, and the growth.

    python -m pytest tests/benchmarks/test_layout.py --benchmark-enable -n 0

Without --benchmark-enable the counts are compared and nothing is timed. Each time is the least of several.
"""

from __future__ import annotations

import math
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture
from shapely import Polygon

from service.takeoff.clipped_counts import count_each
from service.takeoff.geometry import floor_shape
from service.takeoff.laid_floor import Floor
from service.takeoff.layout import lay_out
from service.takeoff.level_counts import count_all, courses_of
from service.takeoff.level_field import level_field
from service.takeoff.room import Obstruction, Pattern, Ring, Room, Tile
from service.takeoff.starts import cell_of, free_starts, level_starts
from service.takeoff.tried import Tried, Wants, step_of
from service.trade.values import load_trade_values
from tests.benchmarks.ratios import note
from tests.benchmarks.reference import clip, count, tiles_on
from tests.takeoff.outlines import rectangle, room_of

VALUES = load_trade_values("us", date(2026, 6, 1))
SMALL = Tile(97, 97)  # a hundred to the square metre at a joint of 3 mm
COLUMN = Obstruction("column", ((3000, 3000), (3400, 3000), (3400, 3400), (3000, 3400)))
L_ROOM: Ring = ((0, 0), (12000, 0), (12000, 6000), (7000, 6000), (7000, 11600), (0, 11600))
OBLIQUE: Ring = ((0, 0), (11000, 800), (12500, 7000), (6000, 10000), (-500, 8000))


@dataclass(frozen=True)
class Way:
    """A floor and how all its starts are counted together."""

    room: Room
    at_least: float  # times quicker per start

    def floor(self) -> Floor:
        return Floor.of(self.room, floor_shape(self.room))

    def starts(self, floor: Floor) -> Callable[[], Tried]:
        wants, plain = Wants.of(self.room), (floor.ground.field.bounds[0], floor.ground.field.bounds[1])
        level, courses = level_field(floor.ground.field), courses_of(floor.repeat)
        if level and courses:
            return lambda: count_all(level, courses, *level_starts(level, courses, plain, wants), wants)
        return lambda: count_each(
            floor.ground, floor.repeat, free_starts(floor.ground, floor.repeat, plain), wants
        )


WAYS = {
    "right-angled, 100 m2": Way(room_of(rectangle(10012, 10012), tile=SMALL), 20),
    "L with a column, 111 m2": Way(room_of(L_ROOM, tile=SMALL, obstructions=(COLUMN,)), 20),
    "laid at 45 degrees, 100 m2": Way(
        room_of(rectangle(10012, 10012), tile=SMALL, pattern=Pattern(rotation=45.0)), 10
    ),
    "oblique, 98 m2": Way(room_of(OBLIQUE, tile=SMALL), 10),
    "herringbone, 100 m2": Way(
        room_of(rectangle(10012, 10012), tile=Tile(197, 47), pattern=Pattern("herringbone")), 10
    ),
}


def least_time(work: Callable[[], Any], rounds: int = 7) -> float:
    """[s]"""
    times = []
    for _ in range(rounds):
        begin = time.perf_counter()
        work()
        times.append(time.perf_counter() - begin)
    return min(times)


def tell(row: str) -> None:
    sys.stderr.write(f"\n{row}")


@pytest.mark.parametrize("name", WAYS)
def test_a_start_is_counted_many_times_quicker_than_by_clipping(
    name: str, benchmark: BenchmarkFixture, capsys: pytest.CaptureFixture[str]
) -> None:
    way = WAYS[name]
    floor = way.floor()
    tried = benchmark(way.starts(floor))
    start = tried.start(0)
    tiles, field = tiles_on(floor.ground.field, floor.repeat, start), floor.ground.field
    if len(floor.repeat.tiles) == 1:
        size = (way.room.tile.length, way.room.tile.width)
        found = count(field, tiles, size, math.prod(size), way.room.min_piece, way.room.joint)
        step = 5 if found.gap else step_of(found.narrowest_share)
        assert (tried.pieces[0], tried.step[0]) == (found.pieces, step)
    if benchmark.enabled:
        reference = least_time(lambda: clip(field, tiles), 3)
        each = benchmark.stats.stats.min / len(tried.origins)
        with capsys.disabled():
            tell(
                f"{name:28} {len(tiles):6} tiles clipped {1e3 * reference:7.1f} ms, {len(tried.origins):6}"
                f" starts at {1e3 * each:7.4f} ms, {reference / each:9.0f} times quicker"
            )
        said = "clipping every tile with shapely"
        note(
            benchmark,
            f"a start counted: {name}",
            reference / each,
            "times quicker",
            way.at_least,
            said,
            least=True,
        )
        assert reference / each >= way.at_least


TYPICAL = {
    "12 m2, stack bond": room_of(rectangle(4000, 3000)),
    "12 m2, L, third bond": room_of(
        ((0, 0), (4200, 0), (4200, 2000), (2600, 2000), (2600, 3500), (0, 3500)),
        tile=Tile(600, 300),
        pattern=Pattern("running_bond", Fraction(1, 3)),
    ),
    "12 m2, at 45 degrees": room_of(rectangle(4000, 3000), pattern=Pattern(rotation=45.0)),
    "12 m2, herringbone": room_of(rectangle(4000, 3000), tile=Tile(600, 100), pattern=Pattern("herringbone")),
}
LARGE = {name: way.room for name, way in WAYS.items() if name != "herringbone, 100 m2"}
LIMITS = {
    "12 m2, stack bond": 0.030,
    "12 m2, L, third bond": 0.030,
    "12 m2, at 45 degrees": 0.050,
    "12 m2, herringbone": 0.100,
    **dict.fromkeys(LARGE, 0.300),
}
"""Seconds on one core for a floor laid out from its best start."""


@pytest.mark.parametrize("name", LIMITS)
def test_best_start_within_its_time(
    name: str, benchmark: BenchmarkFixture, capsys: pytest.CaptureFixture[str]
) -> None:
    room = {**TYPICAL, **LARGE}[name]
    shape = floor_shape(room)
    layout = benchmark.pedantic(lambda: lay_out(room, shape, VALUES), rounds=15, warmup_rounds=1)
    assert layout.search is not None
    if benchmark.enabled:
        took = benchmark.stats.stats.min
        corner = least_time(lambda: lay_out(replace(room, origin="corner"), shape, VALUES), 3)
        with capsys.disabled():
            tell(f"{name:28} best start {1e3 * took:7.1f} ms, plain corner {1e3 * corner:7.1f} ms")
        note(benchmark, f"laid out from the best start: {name}", 1e3 * took, "ms", 1e3 * LIMITS[name])
        assert took <= LIMITS[name]


def fixed_starts(floor: Floor) -> Callable[[], Tried]:
    """The same starts of the cell whatever the tile: 1,024 on a grid, or 64 where they are clipped."""
    wants, level, courses = Wants.of(floor.room), level_field(floor.ground.field), courses_of(floor.repeat)
    if level and courses:
        xs, ys = (np.linspace(0, step, 32) for step in (floor.repeat.step_x, floor.repeat.step_y))
        return lambda: count_all(level, courses, xs, ys, wants)
    grid = np.stack(np.meshgrid(np.arange(8), np.arange(8)), axis=-1).reshape(-1, 2) / 8
    return lambda: count_each(floor.ground, floor.repeat, grid @ cell_of(floor.repeat), wants)


@pytest.mark.parametrize("ring", [rectangle(10012, 10012), OBLIQUE], ids=["right-angled", "oblique"])
def test_time_grows_no_faster_than_tiles_and_edges(
    ring: Ring, benchmark: BenchmarkFixture, capsys: pytest.CaptureFixture[str]
) -> None:
    """Twice the tiles four times over, from 2,500 to 40,000, in one room. Work is tiles, and tiles that meet
    an edge by starts; half as much again is left to the clock."""
    floors = [Way(room_of(ring, tile=Tile(s, s)), 1).floor() for s in (197.0, 138.4, 97.0, 67.7, 47.0)]
    counts = [fixed_starts(floor)() for floor in floors]
    tiles = np.array([floor.ground.field.area * floor.repeat.tiles_per_mm2 for floor in floors])
    met = np.array([Polygon(ring).length / floor.repeat.step_x for floor in floors])
    assert tiles[1:] / tiles[:-1] == pytest.approx(2.0, rel=0.02)
    pieces = np.array([each.pieces.mean() for each in counts])
    assert pieces == pytest.approx(tiles, rel=0.1)
    benchmark(fixed_starts(floors[0]))
    if benchmark.enabled:
        work = tiles + met * len(counts[0].origins)
        times = [least_time(fixed_starts(floor)) for floor in floors]
        with capsys.disabled():
            rows = zip(tiles, times, strict=True)
            tell(", ".join(f"{count:6.0f} tiles {1e3 * took:6.1f} ms" for count, took in rows))
        assert times[-1] / times[0] <= 1.5 * work[-1] / work[0]


def serrated(teeth: int) -> Ring:
    """A round room of 8 m radius whose wall has `teeth` teeth, each two edges and 40 mm deep."""
    angle = np.arange(2 * teeth) * np.pi / teeth
    reach = np.where(np.arange(2 * teeth) % 2, 8000.0, 7960.0)
    ring = np.stack([9000 + reach * np.cos(angle), 9000 + reach * np.sin(angle)], axis=1)
    return tuple((float(x), float(y)) for x, y in ring)


def test_time_grows_no_faster_than_edges(
    benchmark: BenchmarkFixture, capsys: pytest.CaptureFixture[str]
) -> None:
    """Twice the edges three times over, the walls about as long, under the same tile and starts."""
    floors = [Way(room_of(serrated(n), tile=Tile(300, 300)), 1).floor() for n in (32, 64, 128, 256)]
    edges = np.array([len(floor.ground.segments) for floor in floors])
    assert edges.tolist() == sorted(edges.tolist())
    benchmark(fixed_starts(floors[0]))
    if benchmark.enabled:
        times = [least_time(fixed_starts(floor)) for floor in floors]
        with capsys.disabled():
            rows = zip(edges, times, strict=True)
            tell(", ".join(f"{count:4d} edges {1e3 * took:7.1f} ms" for count, took in rows))
        assert times[-1] / times[0] <= 1.5 * edges[-1] / edges[0]
