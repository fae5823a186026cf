"""A doorway that two rooms tell of is profiled, sealed and trimmed once, counted by hand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from service.takeoff import take_off
from service.takeoff.room import ContinuesFrom, Doorway, Job, Room
from service.takeoff.shared_doorways import marked
from tests.takeoff.outlines import rectangle, room_of
from tests.takeoff.rooms import LABOUR, VALUES

# The hall is 4.1 x 3.1 m; the study lies to the right of its wall 1, behind 100 mm of wall.
HALL_DOOR = Doorway(wall=1, offset=1000, width=900, adjoining="wood", adjoining_level=0, leaf=True)
STUDY_DOOR = Doorway(wall=3, offset=1050, width=900, adjoining="wood", adjoining_level=0)
"""Wall 3 of the study runs down from (0, 3000): the doorway lies from y = 1950 to 1050 of it."""
AT = (-4200.0, 50.0)
"""The zero point of the hall in the study."""


def pair(door: Doorway = STUDY_DOOR, at: tuple[float, float] = AT, **said: Any) -> tuple[Room, Room]:
    hall = replace(room_of(rectangle(4100, 3100), doorways=(HALL_DOOR,), origin="corner"), name="Hall")
    study = room_of(rectangle(2500, 3000), doorways=(door,), origin="corner")
    return hall, replace(study, name="Study", continues_from=ContinuesFrom("Hall", at), **said)


def counted(*rooms: Room) -> dict[str, float]:
    answer = take_off(Job(rooms), VALUES, LABOUR)
    once = {line.activity: line.quantity for line in answer.labour}
    return {name: once.get(name, 0.0) for name in ("undercut_jamb", "trim_leaf", "profile")}


def test_a_doorway_of_both_rooms_is_counted_once() -> None:
    hall, study = pair()
    assert [room.shared_doorways for room in marked((hall, study), VALUES)] == [(), (0,)]
    assert counted(hall, study) == counted(hall)
    assert counted(hall) == {"undercut_jamb": 2, "trim_leaf": 1, "profile": pytest.approx(0.9)}
    # Told before the room that it runs on from, it is the same.
    assert counted(study, hall) == counted(hall)


@pytest.mark.parametrize(
    ("door", "at"),
    [
        (replace(STUDY_DOOR, offset=50), AT),  # elsewhere in the same wall
        (replace(STUDY_DOOR, wall=2), AT),  # in another wall
        (STUDY_DOOR, (-5000.0, 50.0)),  # behind 900 mm, which is no wall
    ],
)
def test_other_doorways_stay_two(door: Doorway, at: tuple[float, float]) -> None:
    hall, study = pair(door, at)
    assert marked((hall, study), VALUES)[1].shared_doorways == ()
    assert counted(hall, study)["undercut_jamb"] == 4


def test_rooms_that_do_not_run_on_are_not_known_to_share() -> None:
    hall, study = pair()
    assert counted(hall, replace(study, continues_from=None))["undercut_jamb"] == 4


def test_findings_of_a_shared_doorway_are_told_once() -> None:
    hall, study = pair()
    answer = take_off(Job((hall, study)), VALUES, LABOUR)
    told = [[f.rule for f in room.findings if f.rule.startswith("doorway")] for room in answer.rooms]
    assert told == [["doorway_step"], []]
