"""Pick lists: a room takes what it takes alone, and the rooms together take the whole."""

from __future__ import annotations

from decimal import Decimal
from math import fsum

from hypothesis import given, settings
from hypothesis import strategies as st

from service.quoting.needs import exact
from service.quoting.pick import STEP, in_steps, pick_list
from service.takeoff import take_off
from service.takeoff.answer import RoomShare, Takeoff
from service.takeoff.merge import key_of
from service.takeoff.room import Job, Room
from tests.takeoff.rooms import DRY_RECTANGLE, KITCHEN, LABOUR, VALUES, WET_L

HOUSE = (DRY_RECTANGLE, WET_L, KITCHEN)


def taken(*rooms: Room) -> Takeoff:
    return take_off(Job(rooms), VALUES, LABOUR)


def test_the_rooms_shares_are_exactly_the_whole() -> None:
    house = taken(*HOUSE)
    assert len(house.materials) > 10
    for material in house.materials:
        assert fsum(share.quantity for share in material.shares) == material.with_allowance
        assert {share.room for share in material.shares} - {""} == set(material.rooms)
    assert any(len(material.shares) > 2 for material in house.materials)


def test_a_room_takes_what_it_takes_alone() -> None:
    """The independent way: each room taken off as a job of its own. What is merged must come apart again."""
    house = taken(*HOUSE)
    for room in HOUSE:
        for material in taken(room).materials:
            same = next(m for m in house.materials if key_of(m) == key_of(material))
            share = next(share.quantity for share in same.shares if share.room == room.name)
            of_room = next(s.quantity for s in material.shares if s.room == room.name)
            assert share == of_room, material.role


def test_spares_belong_to_the_job() -> None:
    house = taken(DRY_RECTANGLE)
    (tile,) = (material for material in house.materials if material.role == "tile")
    kept = next(reason.quantity for reason in tile.reasons if reason.text.startswith("kept for repairs"))
    assert tile.shares[-1] == RoomShare("", kept)
    rooms = pick_list(house, ())
    assert [room.room for room in rooms] == ["Utility room", None]
    assert [item.quantity for item in rooms[1].items] == [Decimal(int(kept))]


@settings(max_examples=60)
@given(st.lists(st.floats(-5, 500, allow_nan=False), min_size=1, max_size=8))
def test_whole_steps_add_up_to_the_whole_and_none_is_a_step_off(quantities: list[float]) -> None:
    shares = [RoomShare(str(number), quantity) for number, quantity in enumerate(quantities)]
    told = in_steps(shares)
    total = sum((exact(quantity) for quantity in quantities), Decimal(0))
    assert abs(sum(told) - total) <= STEP / 2
    assert all(abs(step - exact(q)) < STEP for step, q in zip(told, quantities, strict=True))
