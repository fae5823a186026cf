"""The profile between floor and wall, counted by hand."""

from __future__ import annotations

from typing import Any

import pytest

from service.takeoff import cove
from service.takeoff.build_up import tile_height_mm
from service.takeoff.flow import RoomFlow, room_flow
from service.takeoff.geometry import floor_shape
from service.takeoff.room import Doorway, Obstruction, Room
from service.takeoff.shared import Shared
from tests.takeoff.outlines import rectangle, room_of
from tests.takeoff.rooms import VALUES

DOOR = Doorway(wall=0, offset=500, width=900, adjoining="wood", adjoining_level=15)
COLUMN = Obstruction("column", outline=((2000, 1000), (2300, 1000), (2300, 1300), (2000, 1300)))
ROUND = Obstruction("column", centre=(2000, 1500), diameter=300)


def profiled(*obstructions: Obstruction, **said: Any) -> Room:
    said = {"doorways": (DOOR,), "floor_to_wall": "profile", "origin": "corner", **said}
    return room_of(rectangle(4000, 3000), obstructions=obstructions, **said)


def taken(room: Room) -> cove.CoveTake:
    return cove.take(room, floor_shape(room), VALUES)


def pieces(room: Room) -> dict[str, float]:
    return {
        reason.text: reason.quantity
        for material in taken(room).step.materials
        if material.role == "profile_fitting"
        for reason in material.reasons
    }


def roles(flow: RoomFlow) -> set[str]:
    return {material.role for material in flow.step.materials}


def test_a_room_with_one_door() -> None:
    # 4 x 3 m less a door of 0.9 m is 13.1 m in five stretches: 10 ends, 8 of them in the four inside corners
    # and two at the door. Of 8 ft sticks (2.4384 m) the walls of 4, 3, 3 and 2.6 m are joined once each.
    step = taken(profiled()).step
    profile = step.materials[0]
    assert (profile.role, profile.required) == ("cove_profile", pytest.approx(13.1))
    height = tile_height_mm(profiled(), VALUES)
    assert profile.fitness[0].at_least == pytest.approx(height - 0.5)
    connectors = {"connectors where a run is longer than a stick": 4}
    assert pieces(profiled()) == {cove.INSIDE: 4, cove.CAPS: 2, **connectors}
    [work] = step.work
    assert (work.activity, work.driver, work.quantity) == (
        "cove_profile",
        "profile_metres",
        pytest.approx(13.1),
    )


def test_a_column_adds_four_outside_corners_and_no_cap() -> None:
    assert pieces(profiled(COLUMN))[cove.OUTSIDE] == 4
    assert pieces(profiled(COLUMN))[cove.CAPS] == 2


def test_it_takes_the_place_of_sealant_and_rod() -> None:
    flow = room_flow(profiled(), VALUES, Shared())
    assert {"sealant", "backer_rod", "bond_breaker_tape"} & roles(flow) == set()
    assert "sealant" not in {work.activity for work in flow.step.work}
    assert [run.kind for run in flow.answer.profiles].count("cove") == 5
    sealed = room_flow(profiled(floor_to_wall="sealant"), VALUES, Shared())
    assert "sealant" in roles(sealed)
    assert "cove_profile" not in roles(sealed)


def test_around_a_round_column_the_joint_is_sealed() -> None:
    [sealing] = [w for w in room_flow(profiled(ROUND), VALUES, Shared()).step.work if w.activity == "sealant"]
    assert sealing.quantity == pytest.approx(0.3 * 3.1416, rel=2e-3)


def test_waterproofing_stays_as_it_is() -> None:
    wet = {"exposure": "wet", "waterproof": True}
    with_profile, without = (
        room_flow(profiled(floor_to_wall=kind, **wet), VALUES, Shared()) for kind in ("profile", "sealant")
    )
    assert with_profile.answer.waterproofing == without.answer.waterproofing
    assert {"band", "inside_corner", "outside_corner"} <= roles(with_profile)


def test_a_floor_without_walls_has_none() -> None:
    assert taken(profiled(walls=(), doorways=())) == cove.CoveTake()
