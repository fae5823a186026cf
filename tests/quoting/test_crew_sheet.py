"""Crew sheets: everything to cut, mix and do is on them, once."""

from __future__ import annotations

from math import fsum

import pytest

from service.quoting.crew_sheet import crew_sheet
from service.takeoff import take_off
from service.takeoff.room import Job
from tests.takeoff.rooms import DRY_RECTANGLE, KITCHEN, LABOUR, VALUES, WET_L

TAKEN = take_off(Job((DRY_RECTANGLE, WET_L, KITCHEN)), VALUES, LABOUR)
SHEET = crew_sheet(TAKEN, (), {})


def test_every_cut_piece_of_every_room_is_on_it() -> None:
    for sheet, room in zip(SHEET.rooms, TAKEN.rooms, strict=True):
        assert room.layout.plan is not None
        assert [tile.id for tile in sheet.cut_list] == [piece.id for piece in room.layout.plan.cut]
    first = SHEET.rooms[0]
    assert first.takeoff.layout.pieces - first.takeoff.layout.whole_tiles == len(first.cut_list) == 16


def test_every_hour_instruction_and_wait_stands_at_one_stage() -> None:
    work = [line for stage in SHEET.stages for line in stage.work]
    assert sorted(line.activity for line in work) == sorted(line.activity for line in TAKEN.labour)
    assert fsum(line.hours for line in work) == pytest.approx(TAKEN.labour_hours.total)
    told = [one for stage in SHEET.stages for one in stage.instructions]
    assert told == list(TAKEN.instructions)
    assert [wait for stage in SHEET.stages for wait in stage.waits] == list(TAKEN.schedule.waits)


def test_batches_are_the_powder_and_no_more_than_a_batch() -> None:
    powders = [m for m in TAKEN.materials if m.unit == "kg"]
    assert [each.role for each in SHEET.mixing] == [m.role for m in powders]
    for each, material in zip(SHEET.mixing, powders, strict=True):
        mixed = each.full_batches * each.batch_kg + each.last_batch_kg
        assert mixed == pytest.approx(material.with_allowance)
        assert 0 < each.last_batch_kg <= each.batch_kg + 1e-9
        assert fsum(share.quantity for share in each.by_room) == material.with_allowance


def test_water_of_a_bag_of_mortar_is_what_bags_ask_for() -> None:
    """From memory: a 50 lb (22.68 kg) bag of thin-bed mortar asks for about 5 to 6 l."""
    tile = next(each for each in SHEET.mixing if each.role == "tile_mortar")
    water = tile.water_l(22.68)
    assert water is not None
    assert 4.9 <= water[0] < water[1] <= 6.2


def test_what_no_value_is_held_for_is_left_to_the_bag() -> None:
    screeds = [each for each in SHEET.mixing if each.role == "fall_screed"]
    assert all(each.water is None and each.water_l(10) is None for each in screeds)
