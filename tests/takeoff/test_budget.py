"""The work that a request may ask for: refused before it is done, and its units held to the clock."""

from __future__ import annotations

import math
import time
from dataclasses import replace
from datetime import date

import pytest

from service.takeoff import budget, take_off
from service.takeoff.errors import InputError
from service.takeoff.room import Job, Pattern, Room, Tile
from service.trade.values import load_trade_values
from tests.takeoff.outlines import rectangle, room_of
from tests.takeoff.rooms import LABOUR

VALUES = load_trade_values("us", date(2026, 6, 1))


def star(points: int) -> tuple[tuple[float, float], ...]:
    """Of arms 4 m and 2 m long in turn."""
    turns = [(2 * math.pi * place / points, 2000.0 + 2000.0 * (place % 2)) for place in range(points)]
    return tuple((5000 + arm * math.cos(turn), 5000 + arm * math.sin(turn)) for turn, arm in turns)


def slanted(number: int, **said: object) -> Room:
    return room_of(rectangle(8000 + number, 7000), pattern=Pattern(rotation=30.0), **said)


BEYOND: dict[str, tuple[Room, ...]] = {
    "corners": (room_of(star(500), tile=Tile(300, 300)),),
    "rooms": tuple(slanted(number, tile=Tile(200, 200)) for number in range(100)),
    "rotations": tuple(
        replace(slanted(number), pattern=Pattern(try_rotations=(10.0, 20.0, 40.0))) for number in range(50)
    ),
    "area": (room_of(rectangle(999_000, 999_000), tile=Tile(3000, 3000)),),
    "tiles": tuple(room_of(rectangle(20_000, 20_000 + n), tile=Tile(48, 48)) for n in range(25)),
}


@pytest.mark.parametrize("what", BEYOND)
def test_what_asks_for_too_much_is_refused_at_once_and_the_limit_named(what: str) -> None:
    began = time.process_time()
    with pytest.raises(InputError, match="a request may ask for 5,000") as refused:
        take_off(Job(BEYOND[what]), VALUES, LABOUR)
    assert refused.value.pointer == "/rooms"
    assert time.process_time() - began < 0.5


def added(*jobs: Job) -> budget.Work:
    work = budget.Work()
    for job in jobs:
        work.add(job)
    return work


def test_a_floor_that_is_shared_counts_once() -> None:
    alike = tuple(slanted(0, tile=Tile(200, 200)) for _ in range(100))
    once = Job(alike[:1])
    assert added(Job(alike), once).searched(once) == once


ORDINARY = room_of(rectangle(4200, 3100), pattern=Pattern(rotation=45.0))


def diagonal(number: int, kind: str = "stack_bond", **said: object) -> Room:
    """An ordinary room in its own tile."""
    tile = Tile(300 + number, 300 + number) if kind == "stack_bond" else Tile(600 + number, 300)
    return replace(ORDINARY, tile=tile, pattern=Pattern(kind=kind, rotation=45.0), **said)  # type: ignore[arg-type]


def test_ordinary_jobs_are_within_the_budget() -> None:
    """Fifty diagonal rooms, and five diagonal rooms in twenty layouts that share no floor."""
    fifty = Job(tuple(map(diagonal, range(50))))
    assert added(fifty).searched(fifty) == fifty
    variants = [
        Job(tuple(diagonal(5 * number + place, "running_bond") for place in range(5))) for number in range(20)
    ]
    found = added(*variants).searched(variants[0])
    assert {room.search for room in found.rooms} == {"short"}
    assert [replace(room, search="full") for room in found.rooms] == list(variants[0].rooms)


def test_where_there_is_no_time_for_all_starts_fewer_are_tried_and_told() -> None:
    crowd = Job(tuple(slanted(number, tile=Tile(200, 200)) for number in range(60)))
    alone = Job(crowd.rooms[:1])
    short = added(crowd).searched(alone)
    few, many = (take_off(job, VALUES, LABOUR).rooms[0].layout for job in (short, alone))
    assert few.search is not None
    assert many.search is not None
    assert 10 < few.search.tried < many.search.tried / 2
    assert not few.search.complete
    assert few.tiles_needed <= many.search.corner.tiles_needed


LAID = {
    "a slanted room": (slanted(0, tile=Tile(200, 200)),),
    "a star": (room_of(star(60), tile=Tile(300, 300)),),
    "a large floor": (room_of(rectangle(60_000, 60_000), tile=Tile(600, 600)),),
}


@pytest.mark.parametrize("what", LAID)
def test_a_unit_is_no_less_than_the_clock_says(what: str) -> None:
    """Within five times, since the processor may be shared or slow."""
    began = time.process_time()
    take_off(Job(LAID[what]), VALUES, LABOUR)
    took_ms = 1000 * (time.process_time() - began)
    assert took_ms < 5 * sum(map(budget.work_of, LAID[what]))
