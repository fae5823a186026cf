"""The generated rooms: as their written distributions say, buildable, the same for the same seed."""

from __future__ import annotations

import math
from statistics import median

import pytest

from service.ballpark.distributions import distributions
from service.ballpark.generate import rooms
from service.quoting.ballparks.rooms import job_of
from service.takeoff.geometry import floor_shape

KINDS = tuple(distributions().kinds)


def test_the_same_seed_draws_the_same_rooms() -> None:
    assert list(rooms("kitchen", 5, 7)) == list(rooms("kitchen", 9, 7))[:5]
    assert next(rooms("kitchen", 1, 8)) != next(rooms("kitchen", 1, 7))


@pytest.mark.parametrize("kind", KINDS)
def test_areas_and_shapes_are_as_written(kind: str) -> None:
    """The median of 1,000 log-normal areas has a standard error of 1.25 spread / sqrt(1000) (textbook)."""
    said = distributions().kinds[kind]
    drawn = list(rooms(kind, 1000, 3))
    areas = [room.answers.area_m2 or 0.0 for room in drawn]
    error = 1.25 * said.area_m2.spread / math.sqrt(1000)
    assert abs(math.log(median(areas) / said.area_m2.median)) < 4 * error + 0.02
    l_shaped = sum(len(room.corners) in (6, 10) for room in drawn) / 1000
    assert abs(l_shaped - said.l_shaped) < 4 * math.sqrt(0.25 / 1000)


@pytest.mark.parametrize("kind", KINDS)
def test_rooms_are_floors_of_the_area_that_their_owner_says(kind: str) -> None:
    for drawn in rooms(kind, 60, 4):
        shape = floor_shape(job_of(drawn, "us").rooms[0])
        assert shape.measures.floor_area_m2 == pytest.approx(drawn.answers.area_m2, abs=0.051)
