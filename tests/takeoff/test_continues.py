"""A floor that runs on through a doorway: its joints line up, measured in one system of coordinates."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from service.takeoff import take_off
from service.takeoff.answer import Lattice, Takeoff
from service.takeoff.errors import InputError
from service.takeoff.room import BareArea, ContinuesFrom, Job, Pattern, Room, Tile
from tests.takeoff.outlines import rectangle, room_of
from tests.takeoff.rooms import LABOUR, VALUES

AT = (-4200.0, 350.0)
"""The zero point of the hall in the coordinates of the room next to it."""
PATTERNS = [
    Pattern(),
    Pattern("running_bond", Fraction(1, 3)),
    Pattern(rotation=30.0),
    Pattern("herringbone"),
]


def rooms(**said: Any) -> tuple[Room, Room]:
    """A room that runs on from the hall after it, its outline drawn from a zero point of its own."""
    said = {"tile": Tile(600, 300), **said}
    hall = replace(room_of(rectangle(4100, 3100), **said), name="Hall")
    ring = tuple((x, y) for x, y in rectangle(2500, 3300))
    room = replace(room_of(ring, **said), name="Study", continues_from=ContinuesFrom("Hall", AT))
    return room, hall


def taken(*job: Room) -> Takeoff:
    return take_off(Job(job), VALUES, LABOUR)


def lattice(takeoff: Takeoff, number: int) -> Lattice:
    plan = takeoff.rooms[number].layout.plan
    assert plan is not None
    return plan.lattice


@pytest.mark.parametrize("pattern", PATTERNS, ids=lambda pattern: pattern.kind + f" {pattern.rotation:g}")
def test_joints_line_up_through_the_doorway(pattern: Pattern) -> None:
    """The same repeat, and the origins a whole number of cells apart when told in one system."""
    takeoff = taken(*rooms(pattern=pattern))
    here, there = lattice(takeoff, 0), lattice(takeoff, 1)
    assert replace(here, origin=there.origin) == there
    in_this_room = (there.origin[0] + AT[0], there.origin[1] + AT[1])
    assert here.origin == pytest.approx(in_this_room)
    assert takeoff.rooms[0].layout.origin == pytest.approx(in_this_room)


def test_the_room_may_be_named_by_its_number_and_the_chain_be_long() -> None:
    study, hall = rooms()
    third = replace(study, name="Third", continues_from=ContinuesFrom("Study", (100.0, 0.0)))
    takeoff = taken(third, replace(study, continues_from=ContinuesFrom(2, AT)), hall)
    x, y = lattice(takeoff, 2).origin
    assert lattice(takeoff, 0).origin == pytest.approx((x + AT[0] + 100, y + AT[1]))
    assert [room.name for room in takeoff.rooms] == ["Third", "Study", "Hall"]


def test_a_floor_that_runs_on_is_counted_as_if_its_start_were_told() -> None:
    study, hall = rooms()
    takeoff = taken(study, hall)
    told = replace(study, continues_from=None, origin=lattice(takeoff, 0).origin)
    assert taken(told, hall).rooms[0].layout == takeoff.rooms[0].layout


@pytest.mark.parametrize("said", [Pattern(), Pattern(rotation=7.0)])
def test_the_rotation_chosen_holds_without_being_told_again(said: Pattern) -> None:
    study, hall = rooms(pattern=Pattern(rotation=7.0, try_rotations=(0.0,)))
    takeoff = taken(replace(study, pattern=said), hall)
    assert [lattice(takeoff, number).rotation_deg for number in (0, 1)] == [0.0, 0.0]  # fewest cuts


def test_a_rotation_of_its_own_does_not_run_on() -> None:
    study, hall = rooms(pattern=Pattern(rotation=7.0, try_rotations=(0.0,)))
    with pytest.raises(InputError):
        taken(replace(study, pattern=Pattern(rotation=30.0)), hall)


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"continues_from": ContinuesFrom("Attic", AT)}, "/rooms/0/continues_from/room"),
        ({"continues_from": ContinuesFrom(7, AT)}, "/rooms/0/continues_from/room"),
        ({"continues_from": ContinuesFrom(0, AT)}, "/rooms/0/continues_from"),
        ({"tile": Tile(300, 300)}, "/rooms/0/continues_from"),
        ({"joint": 5.0}, "/rooms/0/continues_from"),
        ({"pattern": Pattern("running_bond", Fraction(1, 2))}, "/rooms/0/continues_from"),
    ],
)
def test_what_cannot_run_on_is_refused(change: dict[str, Any], pointer: str) -> None:
    study, hall = rooms()
    with pytest.raises(InputError) as refused:
        taken(replace(study, **change), hall)
    assert refused.value.pointer == pointer


def test_circles_doubles_and_bare_areas_are_refused() -> None:
    study, hall = rooms()
    back = replace(hall, continues_from=ContinuesFrom("Study", (0.0, 0.0)))
    for job in ((study, back), (study, hall, hall), (study, replace(hall, shape=BareArea(12.0, 14000.0)))):
        with pytest.raises(InputError) as refused:
            taken(*job)
        assert refused.value.pointer.startswith("/rooms/0/continues_from")
