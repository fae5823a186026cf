"""Finished levels in doorways: the ground's own rise by compound or screed, and what then meets next door."""

from __future__ import annotations

from dataclasses import replace
from math import hypot

import pytest

from service.takeoff import profiles
from service.takeoff.answer import Finding
from service.takeoff.build_up import finished_level_mm
from service.takeoff.geometry import floor_shape
from service.takeoff.levels import ground_mm
from service.takeoff.room import Doorway, Flatness, Obstruction, Room, Substrate
from tests.takeoff.floors import US, layout, room, shape

DRAIN = Obstruction("drain", centre=(1000, 1000), diameter=110)


def door(level: float, wall: int = 0, offset: float = 500) -> Doorway:
    return Doorway(wall, offset, 900, adjoining="wood", adjoining_level=level)


def rise(floor: Room) -> float:
    made = floor_shape(floor)
    return ground_mm(floor, made, made.openings[0], US)


def told(floor: Room) -> list[Finding]:
    step = profiles.take(floor, shape(floor), layout(), US).step
    return [finding for finding in step.findings if finding.rule == "doorway_step"]


def drops(floor: Room) -> list[str]:
    made = profiles.take(floor, shape(floor), layout(), US).step.materials
    return [f.one_of[0] for material in made for f in material.fitness if f.attribute == "drop"]


def test_a_bare_ground_stays_where_it_is() -> None:
    assert rise(room(doorways=(door(0),))) == 0


def test_compound_lifts_the_ground_by_its_mean_depth() -> None:
    """A worst gap of 12 mm is levelled with 6 mm on average (common practice)."""
    assert rise(room(doorways=(door(0),), substrate=Substrate("screed_cement", Flatness(12, 3000)))) == 6


def test_a_point_fall_lifts_every_wall_alike() -> None:
    """5 x 4 m, drain at (1, 1): hypot(4, 3) = 5 m to the far corner, 1/4 in a foot: 5000 / 48 + 10 mm."""
    sloped = room(doorways=(door(0),), falls="point", obstructions=(DRAIN,), exposure="wet", waterproof=True)
    assert rise(sloped) == pytest.approx(10 + hypot(4000, 3000) / 48)
    assert rise(replace(sloped, doorways=(door(0, wall=2),))) == pytest.approx(rise(sloped))


@pytest.mark.parametrize(("wall", "way"), [(0, 1000), (2, 3000)])
def test_a_linear_fall_lifts_by_the_doorways_own_way(wall: int, way: float) -> None:
    """The line runs through (1, 1) along wall 0, the first of the two nearest: 1 m and 3 m away."""
    sloped = room(doorways=(door(0, wall),), falls="linear", obstructions=(DRAIN,))
    assert rise(sloped) == pytest.approx(10 + way / 48)


def test_levels_next_door_make_step_and_profile() -> None:
    plain = room(doorways=(door(0),))
    level = finished_level_mm(plain, US)
    flush = room(doorways=(door(level),))
    assert (told(flush), drops(flush)) == ([], ["level"])
    [step] = told(room(doorways=(door(level - 10),)))
    assert "10 mm above" in step.message
    assert "a profile takes up the step" in step.message
    assert "the door's leaf is trimmed, which is in the hours" in step.message
    [low] = told(room(doorways=(door(level + 10),)))
    assert "10 mm below" in low.message
    assert "door leaf" not in low.message
    [high] = told(room(doorways=(door(level - 20),)))
    assert "ramp or a threshold" in high.message


def test_compound_and_screed_count_in_the_step() -> None:
    """What was flush before levelling stands 6 mm high after it, and takes a reducer."""
    level = finished_level_mm(room(), US)
    levelled = room(doorways=(door(level),), substrate=Substrate("screed_cement", Flatness(12, 3000)))
    [step] = told(levelled)
    assert "6 mm above" in step.message
    assert drops(levelled) == ["reducer"]
    sloped = room(doorways=(door(level),), falls="point", obstructions=(DRAIN,))
    [step] = told(sloped)
    assert f"{10 + 5000 / 48:.0f} mm above" in step.message
    assert f"lifted by {10 + 5000 / 48:.0f} mm here" in step.message
