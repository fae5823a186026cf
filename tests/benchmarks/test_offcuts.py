"""How near tiles needed come to the number that no cutting can go below, on many random rooms; and how long
the offcuts of a small room and of a large floor take.

Run the long table with: pytest -m full tests/benchmarks/test_offcuts.py -n 0 -s
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from service.takeoff.geometry import floor_shape
from service.takeoff.laid_floor import Floor, LaidFloor
from service.takeoff.layout import lay_out
from service.takeoff.offcuts import cut_from_tiles
from service.takeoff.pieces import orders_for
from service.takeoff.room import Point, Ring, Room, Tile
from service.trade.values import load_trade_values
from tests.benchmarks.random_rooms import oblique_rooms, rectilinear_rooms
from tests.takeoff.outlines import room_of

VALUES = load_trade_values("us", date(2026, 6, 1))


@dataclass(frozen=True)
class Row:
    room: Room
    needed: int
    bound: int

    @property
    def gap(self) -> int:
        return self.needed - self.bound

    @property
    def close(self) -> bool:
        """At most a tile or two in a hundred apart."""
        return self.gap <= max(1, 0.02 * self.needed)


def rows(rooms: Iterable[Room]) -> Iterator[Row]:
    for room in rooms:
        layout = lay_out(room, floor_shape(room), VALUES)
        yield Row(room, layout.tiles_needed, layout.tiles_lower_bound)


def lines(name: str, found: list[Row]) -> Iterator[str]:
    """The table: all rooms, then by what the saw may do and where the first tile goes."""
    sawn = {False: "factory edges at joints", True: "sawn edges at joints"}
    yield line(name, found)
    for free, text in sawn.items():
        for origin in ("best", "corner"):
            part = [row for row in found if row.room.saw.sawn_edges_at_joints == free]
            yield line(f"  {text}, {origin}", [row for row in part if row.room.origin == origin])


def line(name: str, found: list[Row]) -> str:
    count = max(len(found), 1)
    close, proven = (sum(map(judge, found)) / count for judge in (lambda r: r.close, lambda r: r.gap == 0))
    needed, bound = sum(row.needed for row in found), sum(row.bound for row in found)
    worst = max((row.gap for row in found), default=0)
    return (
        f"{name:36s} {len(found):4d} rooms  close {close:6.1%}  proven least {proven:6.1%}  "
        f"largest gap {worst:2d}  needed {needed}  bound {bound}\n"
    )


def share_close(name: str, rooms: Iterable[Room]) -> float:
    found = list(rows(rooms))
    assert all(row.gap >= 0 for row in found)
    sys.stdout.writelines(lines(name, found))
    return sum(row.close for row in found) / len(found)


def test_few_rooms() -> None:
    assert share_close("rectilinear", rectilinear_rooms(20)) >= 0.95
    assert share_close("oblique", oblique_rooms(10)) >= 0.80


@pytest.mark.full
def test_many_rectilinear_rooms() -> None:
    assert share_close("rectilinear", rectilinear_rooms(500)) >= 0.95


@pytest.mark.full
def test_many_oblique_rooms() -> None:
    assert share_close("oblique", oblique_rooms(200)) >= 0.80


RECTILINEAR: Ring = ((0, 0), (4000, 0), (4000, 2000), (3000, 2000), (3000, 3300), (0, 3300))
OBLIQUE: Ring = ((0, 0), (4000, 200), (4100, 2000), (3000, 2300), (2900, 3300), (0, 3400))


def cutting(ring: Ring, times: float, tile: float, origin: Point) -> Callable[[], int]:
    """The offcut model of a floor from a start that leaves odd widths at every wall."""
    room = room_of(tuple((times * x, times * y) for x, y in ring), tile=Tile(tile, tile))
    floor = Floor.of(room, floor_shape(room))
    laid = LaidFloor(floor, origin)
    (order,) = orders_for(floor.ground, laid.tiles)
    return lambda: cut_from_tiles(order.pieces, order.tile, room.saw).count


@pytest.mark.parametrize(
    ("ring", "times", "tile"),
    [(RECTILINEAR, 1, 300), (OBLIQUE, 1, 300), (RECTILINEAR, 3, 98), (OBLIQUE, 3, 98)],
    ids=["12 m2 rectilinear", "12 m2 oblique", "10,000 tiles rectilinear", "10,000 tiles oblique"],
)
def test_time(benchmark: BenchmarkFixture, ring: Ring, times: float, tile: float) -> None:
    assert benchmark(cutting(ring, times, tile, (23.0, 29.0))) > 0
