"""Whole answers: what hangs together over all trade steps of a job."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import asdict, replace
from decimal import Decimal
from math import fsum, isfinite

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.takeoff import take_off
from service.takeoff.answer import Material, Takeoff
from service.takeoff.errors import InputError
from service.takeoff.room import BareArea, Job, Outline, Room, Site, Tile
from service.takeoff.schedule import setup_days
from service.trade.values import load_trade_values
from service.units import M2_PER_FT2
from tests.takeoff.outlines import room_of
from tests.takeoff.rooms import (
    ALL,
    BARE,
    DRY_RECTANGLE,
    JOB,
    KITCHEN,
    LABOUR,
    ON,
    TERRACE,
    VALUES,
    WET_L,
    rectangle,
    rooms,
    walled,
)

ROLES = {
    *("tile", "skirting_tile", "membrane", "band", "inside_corner", "outside_corner", "pipe_seal"),
    *("drain_seal", "perimeter_strip", "membrane_mortar", "tile_mortar", "band_mortar", "grout", "sealant"),
    *("backer_rod", "bond_breaker_tape", "movement_joint_profile", "edge_profile", "transition_profile"),
    *("skirting_profile", "cove_profile", "profile_fitting", "levelling_compound", "fall_screed", "primer"),
    *("heating_cable", "disposal", "protection"),
}


def taken(*given_rooms: Room, site: Site = Site()) -> Takeoff:  # noqa: B008
    return take_off(Job(given_rooms, site=site), VALUES, LABOUR)


def as_bytes(answer: Takeoff) -> bytes:
    return json.dumps(asdict(answer), default=str).encode()


def by_role(answer: Takeoff, role: str) -> list[Material]:
    return [material for material in answer.materials if material.role == role]


def hours(answer: Takeoff, *prefixes: str) -> float:
    return fsum(line.hours for line in answer.labour if line.activity.startswith(prefixes))


def check(answer: Takeoff) -> None:
    """What holds for every answer, whatever the rooms."""
    names = {room.name for room in answer.rooms}
    for material in answer.materials:
        assert material.role in ROLES
        assert isfinite(material.with_allowance)
        assert material.with_allowance >= material.required - 1e-9 >= -1e-9
        assert fsum(reason.quantity for reason in material.reasons) == pytest.approx(material.with_allowance)
        assert set(material.rooms) <= names
    for line in answer.labour:
        assert line.quantity > 0
        assert line.hours == pytest.approx(line.quantity * line.rate, abs=0.005 + 1e-6)
        assert Decimal(repr(line.hours)) == Decimal(f"{line.hours:.2f}")
    total = Decimal(repr(answer.labour_hours.total))
    assert total == sum(Decimal(repr(line.hours)) for line in answer.labour)
    assert total == sum(Decimal(repr(part)) for _, part in answer.labour_hours.by_driver)
    assert len({line.activity for line in answer.labour}) == len(answer.labour)
    assert total >= Decimal(repr(LABOUR.minimum_hours))
    assert 1 <= answer.schedule.visits <= answer.schedule.working_days
    [daily] = (line for line in answer.labour if line.activity == "daily_setup")
    assert daily.quantity == setup_days(answer.schedule, VALUES)
    assert daily.quantity <= answer.schedule.working_days * answer.schedule.crew
    paid = answer.schedule.working_days * answer.schedule.crew * LABOUR.productive_hours_per_day
    assert paid >= float(total) - hours(answer, "daily_setup", "minimum_callout") - 1e-5
    assert all(finding.message and finding.source for room in answer.rooms for finding in room.findings)
    assert len(set(answer.cautions)) == len(answer.cautions) > 0


def test_the_counted_rectangle() -> None:
    # 3015 x 2109, tile 300, joint 3, perimeter joint 6, corner: 10 x 7 positions, the last column and row
    # are cut. Worked by hand: U = 3003 x 2097; n = (3003 + 3) // 303 = 9, remainder 276; m = 6, remainder
    # 279. So 54 whole, 16 cut, 70 pieces, the corner piece cut twice: 17 straight cuts.
    [room] = taken(replace(DRY_RECTANGLE, doorways=())).rooms
    layout = room.layout
    assert (layout.whole_tiles, layout.cut_tiles, layout.pieces, layout.tiles_needed) == (54, 16, 70, 70)
    assert layout.cuts.straight == 17


@pytest.mark.parametrize("room", ALL, ids=lambda room: room.name)
def test_each_example_room(room: Room) -> None:
    check(taken(room))


def test_all_example_rooms_as_one_job() -> None:
    answer = take_off(JOB, VALUES, LABOUR)
    check(answer)
    assert [room.name for room in answer.rooms] == [room.name for room in ALL]
    assert {material.role for material in answer.materials} >= {
        *("tile", "skirting_tile", "membrane", "perimeter_strip", "membrane_mortar", "tile_mortar", "grout"),
        *("band", "band_mortar", "inside_corner", "outside_corner", "drain_seal", "fall_screed"),
        *("sealant", "edge_profile", "transition_profile", "movement_joint_profile", "levelling_compound"),
        *("heating_cable", "disposal", "primer"),
    }


@settings(max_examples=100, suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(st.lists(rooms(), min_size=1, max_size=2), st.booleans())
def test_random_jobs(some: list[Room], occupied: bool) -> None:
    check(taken(*some, site=Site(floor=2, lift=False, carry=20000.0, occupied=occupied)))


def test_the_same_job_gives_the_same_bytes() -> None:
    assert as_bytes(take_off(JOB, VALUES, LABOUR)) == as_bytes(take_off(JOB, VALUES, LABOUR))


def test_the_same_bytes_in_another_process() -> None:
    # Sets of words are ordered by the process's hash seed: nothing may depend on it.
    script = (
        "import hashlib; from service.takeoff import take_off; from tests.takeoff import rooms as r;"
        "from tests.takeoff.test_take_off import as_bytes;"
        "print(hashlib.sha256(as_bytes(take_off(r.JOB, r.VALUES, r.LABOUR))).hexdigest())"
    )
    digests = {
        subprocess.run(
            [sys.executable, "-c", script],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    }
    assert len(digests) == 1


@pytest.mark.parametrize("edge", [300.0, 600.0])
@pytest.mark.parametrize(("length", "width"), [(4000.0, 3000.0), (4800.0, 2500.0), (6000.0, 2000.0)])
@pytest.mark.parametrize("origin", ["corner", "best"])
def test_a_tilers_day(edge: float, length: float, width: float, origin: str) -> None:
    # An experienced tiler does 100 to 250 ft2 of standard floor in a day of 8 h, preparation apart
    # (general web article): 0.86 to 0.34 h/m2 for setting, cutting and grouting.
    room = Room("Plain", walled(rectangle(length, width)), Tile(edge, edge), origin=origin)  # type: ignore[arg-type]
    per_m2 = hours(taken(room), "set_", "cut_", "grout") / (length * width / 1e6)
    a_square_foot = float(M2_PER_FT2)
    assert 8 / (250 * a_square_foot) <= per_m2 <= 8 / (100 * a_square_foot)


def test_a_fault_is_told_with_its_room() -> None:
    crossing = walled(((0.0, 0.0), (1000.0, 1000.0), (1000.0, 0.0), (0.0, 1000.0)))
    with pytest.raises(InputError) as refused:
        taken(BARE, replace(DRY_RECTANGLE, shape=crossing))
    assert refused.value.pointer == "/rooms/1/outline"


def test_a_table_without_a_rate_is_told() -> None:
    table = replace(LABOUR, rates=tuple(rate for rate in LABOUR.rates if rate.activity != "grout"))
    with pytest.raises(InputError) as refused:
        take_off(Job((DRY_RECTANGLE,)), VALUES, table)
    assert refused.value.pointer == "/labour_rates/grout"


def test_every_activity_has_a_rate_in_the_opening_table() -> None:
    answer = take_off(JOB, VALUES, LABOUR)
    assert {line.activity for line in answer.labour} <= set(LABOUR.by_activity)


def test_a_second_room_alike_doubles_what_is_bought() -> None:
    """Of tile less what the offcuts of both rooms together save."""
    one, two = taken(KITCHEN), taken(KITCHEN, replace(KITCHEN, name="Other kitchen"))
    for single, double in zip(one.materials, two.materials, strict=True):
        shared = fsum(r.quantity for r in double.reasons if r.text == "offcuts shared between rooms")
        assert (double.role, double.required) == (single.role, pytest.approx(2 * single.required + shared))
        assert shared <= 0 if double.role == "tile" else shared == 0
        assert double.rooms == ("Kitchen", "Other kitchen")
        assert single.reasons[0].text.startswith("Kitchen: ")


def test_coming_is_paid_once_and_set_up_daily() -> None:
    two = taken(KITCHEN, replace(KITCHEN, name="Other kitchen"))
    lines = {line.activity: line for line in two.labour}
    assert lines["mobilise"].quantity == 1
    assert lines["daily_setup"].quantity == setup_days(two.schedule, VALUES)


def test_work_is_listed_in_the_order_of_building() -> None:
    listed = [line.activity for line in take_off(JOB, VALUES, LABOUR).labour]
    order = ("mobilise", "remove_resilient", "prime", "level", "lay_membrane", "band", "flood_test")
    later = ("set_medium", "grout", "sealant", "daily_setup")
    places = [listed.index(activity) for activity in (*order, *later)]
    assert places == sorted(places)
    assert (places[0], places[-1]) == (0, len(listed) - 1)


def test_a_closet_is_charged_the_least() -> None:
    dear = replace(LABOUR, minimum_hours=40.0)
    answer = take_off(Job((DRY_RECTANGLE,)), VALUES, dear)
    assert answer.labour[-1].activity == "minimum_callout"
    assert answer.labour_hours.total == 40.0


def test_a_wet_room_waits_at_every_step() -> None:
    schedule = taken(WET_L).schedule
    assert [wait.after for wait in schedule.waits if wait.hours > 4] == [
        "level",
        "waterproofing",
        "flood_test",
        "setting",
        "grouting",
    ]
    # Screed; membrane and bands; test; tile; grout; sealant: a day each, with none between them; the test,
    # grout and sealant are a few hours of one person.
    assert (schedule.visits, schedule.working_days, schedule.days_alone) == (1, 6, 3)


def test_an_area_is_taken_off_as_an_allowance() -> None:
    answer = taken(BARE)
    assert not answer.rooms[0].layout.laid_out
    assert {"tile", "membrane", "tile_mortar", "grout", "sealant"} <= {m.role for m in answer.materials}
    assert any("allowance" in caution for caution in answer.cautions)
    [told] = (finding for finding in answer.rooms[0].findings if finding.rule == "allowance")
    assert told.verdict == "condition"
    assert "allowance" not in {finding.rule for finding in taken(KITCHEN).rooms[0].findings}


def test_an_allowance_is_near_the_floor_it_stands_for() -> None:
    # The same 4 x 3 m room as outline and as area: areas and perimeters equal, tiles within a tenth.
    drawn = Room("Drawn", walled(rectangle(4000.0, 3000.0)), Tile(300.0, 300.0))
    known = replace(drawn, shape=BareArea(12.0, 14000.0))
    exact, rough = taken(drawn), taken(known)
    for role in ("membrane", "membrane_mortar", "perimeter_strip"):
        [one], [other] = by_role(exact, role), by_role(rough, role)
        assert other.required == pytest.approx(one.required)
    # An allowance takes half a joint all round for grout, which is sealant in the drawn floor: 5 % here.
    for role in ("tile_mortar", "grout", "sealant"):
        [one], [other] = by_role(exact, role), by_role(rough, role)
        assert other.required == pytest.approx(one.required, rel=0.06)
    [tiles], [allowed] = by_role(exact, "tile"), by_role(rough, "tile")
    assert allowed.with_allowance == pytest.approx(tiles.with_allowance, rel=0.1)


def test_an_open_edge_gets_a_profile_and_less_perimeter() -> None:
    closed = replace(KITCHEN, shape=walled(rectangle(4200.0, 3100.0)))
    [open_strip], [closed_strip] = (
        by_role(taken(KITCHEN), "perimeter_strip"),
        by_role(taken(closed), "perimeter_strip"),
    )
    assert closed_strip.required - open_strip.required == pytest.approx(4.2)
    assert by_role(taken(KITCHEN), "edge_profile")
    assert not by_role(taken(closed), "edge_profile")


def test_an_occupied_home_is_protected() -> None:
    lived_in = taken(KITCHEN, site=Site(carry=12000.0, occupied=True))
    assert by_role(lived_in, "protection")
    assert not by_role(taken(KITCHEN), "protection")
    assert lived_in.labour_hours.total > taken(KITCHEN).labour_hours.total


def test_what_is_taken_up_is_disposed_of() -> None:
    answer = taken(KITCHEN)
    [disposal] = by_role(answer, "disposal")
    assert disposal.required == pytest.approx(4.2 * 3.1)
    assert hours(answer, "remove_resilient") > 0
    assert any("asbestos" in caution for caution in answer.cautions)


def test_a_wet_room_without_waterproofing_is_refused() -> None:
    assert taken(replace(WET_L, waterproof=False)).refused
    assert not taken(BARE).refused


@pytest.mark.parametrize("standards", ["us", "uk", "de"])
def test_every_country_takes_off_every_room(standards: str) -> None:
    values = load_trade_values(standards, ON)
    answer = take_off(replace(JOB, standards=standards), values, LABOUR)  # type: ignore[arg-type]
    check(answer)
    assert answer.trade_edition.endswith(standards)


def test_moving_the_rooms_moves_nothing_else() -> None:
    def moved(room: Room) -> Room:
        assert isinstance(room.shape, Outline)
        return replace(
            room, shape=replace(room.shape, ring=tuple((x + 700.0, y - 300.0) for x, y in room.shape.ring))
        )

    here, there = taken(KITCHEN, TERRACE), taken(moved(KITCHEN), moved(TERRACE))
    for one, other in zip(here.materials, there.materials, strict=True):
        assert (one.role, one.fitness) == (other.role, other.fitness)
        assert one.with_allowance == pytest.approx(other.with_allowance)
    assert [line.activity for line in here.labour] == [line.activity for line in there.labour]
    assert here.labour_hours.total == pytest.approx(there.labour_hours.total)


def test_narrow_strips_of_several_rooms_share_a_width_of_roll() -> None:
    # Worked by hand: 1.5 x 1.5 m is a strip of 1.0 and one of 0.5 m; of four rooms the halves pair up. Alone
    # a room takes 3 m2 of roll, all four together 9, each longer by what is trimmed off.
    rooms = [replace(room_of(rectangle(1500, 1500)), name=name) for name in "ABCD"]
    alone, together = (by_role(taken(*some), "membrane")[0] for some in (rooms[:1], rooms))
    assert together.with_allowance == pytest.approx(3 * alone.with_allowance)
    assert fsum(reason.quantity for reason in together.reasons) == pytest.approx(together.with_allowance)
    assert together.reasons[-1].quantity == pytest.approx(-alone.with_allowance)
