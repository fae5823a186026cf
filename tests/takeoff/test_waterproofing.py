"""Bands, corners, seals, flood test and the findings of wet floors, against hand-worked rooms."""

from __future__ import annotations

from dataclasses import replace
from math import ceil, fsum
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.takeoff import membrane, waterproofing
from service.takeoff.answer import Finding, Material
from service.takeoff.geometry import floor_shape
from service.takeoff.room import Doorway, Membrane, Obstruction, Outline, Room, Zone
from service.takeoff.waterproofing_rules import fall_mm, furthest_from_drain_mm
from service.trade.values import TradeValues, load_trade_values
from tests.takeoff.floors import UNLAID
from tests.takeoff.outlines import rectangle, rectilinear, room_of
from tests.takeoff.rooms import ON, VALUES, WET_L

DE, UK = load_trade_values("de", ON), load_trade_values("uk", ON)
DOOR = Doorway(wall=0, offset=500, width=900, adjoining="wood", adjoining_level=15)
DRAIN = Obstruction("drain", centre=(900, 1200), diameter=110)
PIPE = Obstruction("pipe", centre=(3000, 500), diameter=110)
COLUMN = Obstruction("column", outline=((2000, 1000), (2300, 1000), (2300, 1300), (2000, 1300)))
ZONE = Zone(((0, 0), (1000, 0), (1000, 1000), (0, 1000)), "wet")


def wet(*obstructions: Obstruction, **said: Any) -> Room:
    said = {"exposure": "wet", "waterproof": True, "doorways": (DOOR,), **said}
    return room_of(rectangle(4000, 3000), obstructions=obstructions, **said)


def taken(room: Room, values: TradeValues = VALUES) -> waterproofing.WaterproofingTake:
    shape = floor_shape(room)
    mat = membrane.lay(shape, room.membrane, values) if room.membrane else None
    return waterproofing.take(room, shape, UNLAID, mat, values)


def material(room: Room, role: str) -> Material:
    return next(m for m in taken(room).step.materials if m.role == role)


def finding(room: Room, rule: str, values: TradeValues = VALUES) -> Finding:
    [found] = [f for f in taken(room, values).step.findings if f.rule == rule]
    return found


def test_band_of_a_room_with_one_door() -> None:
    # Worked by hand: 4 x 3 m less a door of 0.9 m: 13.1 m of wall, 4 inside corners; two seams of 4.0 m;
    # the door's two jambs are outside corners.
    answer = taken(wet()).answer
    assert answer is not None
    assert answer.band_length_m == pytest.approx(13.1 + 8.0)
    assert (answer.inside_corners, answer.outside_corners) == (4, 2)
    assert (answer.pipe_seals, answer.drain_seals) == (0, 0)


def test_a_column_adds_its_walls_and_four_outside_corners() -> None:
    answer = taken(wet(COLUMN, DRAIN, PIPE)).answer
    assert answer is not None
    # The column stands across the seam at 1.0 m over 0.3 m of its length: that seam has 3.7 m.
    assert answer.band_length_m == pytest.approx(13.1 + 1.2 + 3.7 + 4.0)
    assert (answer.inside_corners, answer.outside_corners) == (4, 6)
    assert (answer.pipe_seals, answer.drain_seals) == (1, 1)


def test_an_l_room_with_a_column_and_a_door() -> None:
    # L: 5 inside, 1 outside; column 4 outside; door jambs 2 outside.
    answer = taken(WET_L).answer
    assert answer is not None
    assert (answer.inside_corners, answer.outside_corners) == (5, 7)


def test_laps_are_bought_and_not_billed() -> None:
    # 21.1 m of band from rolls of 10 m: 2 joins of 50 mm, and 50 mm on both sides of 6 corner pieces.
    band = material(wet(), "band")
    assert band.required == pytest.approx(21.1)
    assert band.with_allowance == pytest.approx(21.1 + 2 * 0.05 + 12 * 0.05)
    work = {w.activity: w.quantity for w in taken(wet()).step.work}
    assert work == {"band": pytest.approx(21.1), "inside_corner": 4, "outside_corner": 2}


@pytest.mark.parametrize(("roll", "joins"), [(5.0, 4), (30.0, 0), (None, 2)])
def test_bands_are_joined_where_their_rolls_end(roll: float | None, joins: int) -> None:
    # 21.1 m from rolls of 5 m are five rolls, of 30 m one; the usual roll of 10 m where no product says.
    band = material(wet(band_roll=roll), "band")
    assert band.with_allowance - band.required == pytest.approx(0.05 * (joins + 12))


def test_everything_is_of_one_system() -> None:
    materials = taken(wet(DRAIN, PIPE, falls="point")).step.materials
    assert {m.role for m in materials} == {
        "band",
        "inside_corner",
        "outside_corner",
        "pipe_seal",
        "drain_seal",
    }
    assert all(m.one_system for m in materials)


@settings(max_examples=40, deadline=None)
@given(rectilinear(), st.integers(-5000, 5000))
def test_band_is_the_seams_and_the_walls(outline: Outline, shift: int) -> None:
    room = room_of(outline.ring, outline.holes, exposure="wet", waterproof=True)
    shape = floor_shape(room)
    mat = membrane.lay(shape, Membrane(), VALUES)
    result = taken(room)
    assert result.answer is not None
    around = fsum(edge.length for edge in shape.edges) / 1000
    assert result.answer.band_length_m == pytest.approx(around + mat.seam_length_m)
    # A corner turned in and a corner turned out for every right angle, four more in than out on the outline.
    holes = len(outline.holes)
    assert result.answer.inside_corners - result.answer.outside_corners == 4 - 4 * holes
    band = next(m for m in result.step.materials if m.role == "band")
    joins = ceil(band.required / VALUES.number("waterproofing.band_roll_length")) - 1
    corners = result.answer.inside_corners + result.answer.outside_corners
    assert band.with_allowance - band.required == pytest.approx(0.05 * (joins + 2 * corners))


def test_flood_test_waits() -> None:
    # ASTM D5957: not in the first 24 h after the last product; water held at least 24 h (from memory).
    waits = taken(wet(DRAIN)).step.waits
    assert [(wait.after, wait.hours) for wait in waits] == [("waterproofing", 24), ("flood_test", 24)]
    assert all("D5957" in wait.source for wait in waits)


def test_fall_of_a_quarter_inch_a_foot() -> None:
    # Plumbing codes: 1/4 in per ft over 900 mm is 900 / 48 = 18.75 mm.
    assert fall_mm(900, VALUES) == pytest.approx(18.75)
    assert fall_mm(1000, DE) == pytest.approx(20.0)


def test_the_fall_is_told_from_the_furthest_corner() -> None:
    # Drain at (900, 1200) in 4000 x 3000: the corner (4000, 3000) is hypot(3100, 1800) = 3584.7 mm away.
    room = wet(DRAIN, falls="point")
    assert furthest_from_drain_mm(room, floor_shape(room)) == pytest.approx(3584.7, abs=0.1)
    told = finding(room, "fall")
    assert told.verdict == "pass"
    assert "75 mm" in told.message  # 3584.7 / 48 = 74.7


@pytest.mark.parametrize(
    ("room", "verdict"),
    [
        (wet(DRAIN), "condition"),  # a drain, no fall
        (wet(DRAIN, falls="linear"), "pass"),
        (wet(falls="point"), "condition"),  # a fall, no drain
        (wet(exposure="exterior"), "condition"),  # outdoors, no fall
        (wet(walls=(0, 1, 3), falls="linear", exposure="exterior"), None),  # falls to its free edge
        (wet(), "condition"),  # level, and a drain is asked for
    ],
)
def test_falls(room: Room, verdict: str | None) -> None:
    found = [f.verdict for f in taken(room).step.findings if f.rule == "fall"]
    assert found == ([verdict] if verdict else [])


@pytest.mark.parametrize(
    ("values", "room", "said", "source"),
    [
        (VALUES, wet(), "A118.10", "A118.10"),
        (UK, wet(), "wet area", "BS 5385-4"),
        (DE, wet(), "W1-I", "DIN 18534-1"),
        (DE, wet(DRAIN, falls="point"), "W2-I", "DIN 18534-1"),
        (DE, wet(exposure="dry"), "W0-I", "DIN 18534-1"),
        (DE, wet(exposure="exterior"), "terrace", "DIN 18531-5"),
    ],
)
def test_exposure_classes(values: TradeValues, room: Room, said: str, source: str) -> None:
    found = finding(room, "exposure_class", values)
    assert said in found.message
    assert source in found.source


def test_the_upstand_over_the_finished_floor() -> None:
    # Band 125 mm with 50 mm on the membrane: 75 mm on the wall, less 9 mm of tile and 3.4 of film: 63 mm,
    # over 50 mm (from memory, DIN 18534). With a tile 30 mm thick only some 42 mm are left.
    assert finding(wet(), "upstand").verdict == "pass"
    thick = wet()
    thick = replace(thick, tile=replace(thick.tile, thickness=30))
    assert "at least 134 mm wide" in finding(thick, "upstand").message  # 50 + 30 + 3.4 + 50 mm


@pytest.mark.parametrize(
    ("room", "upstand"), [(wet(), 50), (wet(DRAIN), 150), (wet(exposure="exterior"), 150)]
)
def test_the_upstand_follows_the_exposure(room: Room, upstand: float) -> None:
    # 50 mm at the wall base of a wet floor (from memory, DIN 18534-1), 150 mm at showers and outdoors (common
    # practice), which a band of 125 mm does not reach: 150 + 12.4 + 50 = 212.4 mm.
    answer = taken(room).answer
    assert answer is not None
    assert answer.upstand_mm == upstand
    said = finding(room, "upstand")
    assert said.verdict == "pass"
    assert ("at least 213 mm wide" in said.message) == (upstand == 150)
    bands = [m for m in taken(room).step.materials if m.role == "band"]
    asked = [[(f.attribute, f.at_least) for f in band.fitness] for band in bands]
    assert asked == ([[]] if upstand == 50 else [[], [("width_mm", 213)]])
    # By hand: seams of 2 x 4 m, walls 13.1 m; the corners' laps are the walls' (12), each has a roll's end.
    required = [band.required for band in bands]
    assert required == pytest.approx([21.1] if upstand == 50 else [8.0, 13.1])
    if upstand == 150:
        assert bands[1].with_allowance == pytest.approx(13.1 + 0.05 + 12 * 0.05)


@pytest.mark.parametrize(
    ("room", "tested"),
    [
        (wet(), False),  # nothing holds water on it
        (wet(DRAIN), True),
        (wet(curb=True), True),
        (wet(DRAIN, exposure="exterior"), False),
        (wet(curb=True, exposure="dry"), False),
    ],
)
def test_only_a_floor_that_holds_water_is_flooded(room: Room, tested: bool) -> None:
    step = taken(room).step
    assert ("flood_test" in {work.activity for work in step.work}) is tested
    assert bool(step.waits) is tested
    told = finding(room, "flood_test")
    assert told.verdict == ("pass" if tested else "condition")
    assert ("no flood test is priced" in told.message.lower()) is not tested


def test_without_walls_there_is_no_upstand() -> None:
    result = taken(wet(walls=(), doorways=(), exposure="exterior"))
    assert result.answer is not None
    assert (result.answer.upstand_mm, result.answer.wall_band_m) == (None, 0.0)
    assert "upstand" not in {finding.rule for finding in result.step.findings}


def test_a_wet_room_without_waterproofing_is_refused() -> None:
    result = taken(wet(waterproof=False))
    assert result.answer is None
    assert not result.step.materials
    assert [f.verdict for f in result.step.findings] == ["refuse"]
    outdoors = taken(wet(waterproof=False, exposure="exterior"))
    assert [f.verdict for f in outdoors.step.findings] == ["condition"]


def test_bands_alone_do_not_waterproof_a_floor() -> None:
    result = taken(wet(membrane=None))
    assert ("waterproofing", "refuse") in [(f.rule, f.verdict) for f in result.step.findings]


def test_a_wet_zone_in_a_dry_room() -> None:
    asked = wet(exposure="dry", zones=(ZONE,))
    assert taken(asked).answer == taken(wet()).answer
    told = finding(asked, "wet_zone")
    assert told.verdict == "condition"
    assert "the whole floor is sealed, as was asked for" in told.message
    assert "wet_zone" not in {f.rule for f in taken(wet(zones=(ZONE,))).step.findings}
    assert finding(replace(asked, waterproof=False), "waterproofing").verdict == "condition"


def zoned(*obstructions: Obstruction, zone: Zone = ZONE, **said: Any) -> Room:
    zones = {"exposure": "dry", "zones": (zone,), "sealed_zones_only": True}
    return wet(*obstructions, **{**zones, **said})


def test_only_the_zone_is_sealed() -> None:
    # Worked by hand, the zone 1 x 1 m in a corner and 50 mm of lap around it: wall 0 up to the door at 0.5 m,
    # wall 3 over 1.05 m, the membrane's seam at y = 1 m over 1.05 m; the corner and the door's first jamb.
    room = zoned(PIPE, DRAIN)
    answer = taken(room).answer
    assert answer is not None
    assert answer.band_length_m == pytest.approx(0.5 + 1.05 + 1.05, abs=1e-5)
    assert (answer.inside_corners, answer.outside_corners) == (1, 1)
    assert (answer.pipe_seals, answer.drain_seals) == (0, 0)
    told = finding(room, "wet_zone")
    assert told.verdict == "condition"
    assert "1.10 of 12.00 m2" in told.message  # 1.05 x 1.05 m
    bands = [m.required for m in taken(room).step.materials if m.role == "band"]
    assert bands == pytest.approx([1.05, 1.55], abs=1e-5)  # the seam's, and the wall's, which is wider


def test_what_stands_in_the_zone_is_sealed_with_it() -> None:
    around = Zone(((1900, 400), (3100, 400), (3100, 1500), (1900, 1500)), "wet")
    answer = taken(zoned(COLUMN, PIPE, DRAIN, zone=around)).answer
    assert answer is not None
    # The column's 1.2 m and 4 outside corners; the seam at y = 1 m on both sides of its 0.3 m.
    assert answer.band_length_m == pytest.approx(1.2 + 1.3 - 0.3, abs=1e-5)
    assert (answer.inside_corners, answer.outside_corners) == (0, 4)
    assert (answer.pipe_seals, answer.drain_seals) == (1, 0)


def test_a_zone_over_the_whole_room_seals_the_whole_room() -> None:
    everywhere = Zone(((0, 0), (4000, 0), (4000, 3000), (0, 3000)), "wet")
    zone, whole = taken(zoned(COLUMN, PIPE, zone=everywhere)).answer, taken(wet(COLUMN, PIPE)).answer
    assert zone is not None
    assert whole is not None
    assert zone.band_length_m == pytest.approx(whole.band_length_m)
    assert zone.wall_band_m == pytest.approx(whole.wall_band_m)
    unmeasured = {"band_length_m": 0.0, "wall_band_m": 0.0}
    assert replace(zone, **unmeasured) == replace(whole, **unmeasured)


def test_a_zone_without_wall_or_seam_takes_no_band() -> None:
    amid = Zone(((1500, 1200), (2500, 1200), (2500, 1800), (1500, 1800)), "wet")
    result = taken(zoned(zone=amid))
    assert result.answer is not None
    assert result.answer.band_length_m == 0
    assert not result.step.materials


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 3000), st.integers(0, 2000), st.integers(100, 1000), st.integers(100, 1000))
def test_a_zone_never_takes_more_than_the_room(x: int, y: int, length: int, width: int) -> None:
    zone = Zone(((x, y), (x + length, y), (x + length, y + width), (x, y + width)), "wet")
    part, whole = taken(zoned(COLUMN, zone=zone)).answer, taken(wet(COLUMN)).answer
    assert part is not None
    assert whole is not None
    assert part.band_length_m <= whole.band_length_m + 1e-6
    assert part.inside_corners <= whole.inside_corners
    assert part.outside_corners <= whole.outside_corners


def test_a_dry_room_has_nothing_of_it() -> None:
    result = taken(wet(exposure="dry", waterproof=False))
    assert result.answer is None
    assert result.step == type(result.step)()
