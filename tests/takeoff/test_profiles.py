"""Profiles at edges and doorways, and lengths cut from sticks, against hand-worked and textbook cases."""

from __future__ import annotations

from dataclasses import replace
from math import ceil, fsum
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.cutting.runs import CutLengths, runs_of
from service.takeoff import assumptions, profiles
from service.takeoff.answer import Material
from service.takeoff.build_up import finished_level_mm, tile_height_mm
from service.takeoff.doorways import meeting
from service.takeoff.geometry import floor_shape
from service.takeoff.merge import merged
from service.takeoff.profiles import ProfilesTake
from service.takeoff.room import Doorway, Obstruction, Room
from service.takeoff.sticks import bought, from_sticks, joints, proof, sawn
from service.trade.values import load_trade_values
from tests.takeoff.floors import UNLAID
from tests.takeoff.outlines import rectangle, room_of
from tests.takeoff.rooms import ON, VALUES

DE = load_trade_values("de", ON)
SQUARE = rectangle(4000, 3000)
ELL = ((0, 0), (4000, 0), (4000, 1000), (2000, 1000), (2000, 3000), (0, 3000))


def taken(room: Room) -> ProfilesTake:
    return profiles.take(room, floor_shape(room), UNLAID, VALUES)


def materials(room: Room, role: str) -> list[Material]:
    return [m for m in taken(room).step.materials if m.role == role]


def fitted(room: Room) -> dict[str, float]:
    """Fittings by why they are needed."""
    return {r.text: r.quantity for m in materials(room, "profile_fitting") for r in m.reasons}


def door(**said: Any) -> Doorway:
    return Doorway(**{"wall": 0, "offset": 500, "width": 900, **said})


def with_door(**said: Any) -> Room:
    return room_of(SQUARE, doorways=(door(**said),))


def verdicts(room: Room) -> list[tuple[str, str]]:
    return [(f.rule, f.verdict) for f in taken(room).step.findings]


def test_an_open_edge_takes_an_edge_profile() -> None:
    # Tile 9 mm and the film of a 1/4 x 3/8 x 1/4 in notch at 45 degrees, 3.368 mm (plane geometry).
    room = room_of(SQUARE, walls=(0, 1, 3))
    [run] = taken(room).answer
    assert (run.kind, run.length_m, run.place) == ("edge", 4.0, "open edge 2")
    assert run.height_mm == pytest.approx(12.368, abs=1e-3)
    [profile] = materials(room, "edge_profile")
    [height] = profile.fitness
    assert height.attribute == "height_mm"
    assert (height.at_least, height.at_most) == pytest.approx((11.868, 14.368), abs=1e-3)


def test_open_edges_that_meet_take_a_corner_piece_and_no_mitre() -> None:
    # Edges 1 (3.0 m) and 2 (4.0 m) meet at a right angle.
    room = room_of(SQUARE, walls=(0, 3))
    [profile] = materials(room, "edge_profile")
    assert profile.required == pytest.approx(7.0)
    assert "mitres" not in [reason.text for reason in profile.reasons]
    assert fitted(room) == {profiles.CORNERS: 1, profiles.CONNECTORS: 2}  # both runs outrun a stick


def test_open_edges_that_meet_askew_are_mitred_and_take_no_corner_piece() -> None:
    # A corner cut off at 45 degrees: edges of 2.0, sqrt 2 and 1.0 m, each meeting loses the height twice.
    room = room_of(((0, 0), (3000, 0), (3000, 2000), (2000, 3000), (0, 3000)), walls=(0, 4))
    [profile] = materials(room, "edge_profile")
    assert profile.required == pytest.approx(2.0 + 2**0.5 + 2.0)
    mitres = next(reason.quantity for reason in profile.reasons if reason.text == "mitres")
    assert mitres == pytest.approx(4 * tile_height_mm(room, VALUES) / 1000)
    assert profiles.CORNERS not in fitted(room)


def test_an_edge_that_ends_at_the_corner_of_a_wall_takes_a_cap() -> None:
    # L: edge 2 runs from an inside corner of the outline to the reflex corner, past which the floor goes on.
    room = room_of(ELL, walls=(0, 1, 3, 4, 5))
    [fitting] = materials(room, "profile_fitting")
    assert [reason.text for reason in fitting.reasons] == ["end caps at free ends"]
    assert fitting.with_allowance == 1


def test_a_floor_open_all_round() -> None:
    # Four edges, four corner pieces, no cap; each edge is longer than a stick and shorter than two.
    assert fitted(room_of(SQUARE, walls=())) == {profiles.CORNERS: 4, profiles.CONNECTORS: 4}


def test_a_stair_opening_is_closed_by_profiles() -> None:
    # A stair of 1.0 x 2.0 m in the corner: two sides against walls, two bare, one corner between them.
    stair = Obstruction("stair", outline=((3000, 1000), (4000, 1000), (4000, 3000), (3000, 3000)))
    room = room_of(SQUARE, obstructions=(stair,))
    [profile] = materials(room, "edge_profile")
    assert profile.required == pytest.approx(3.0)
    assert [m.with_allowance for m in materials(room, "profile_fitting")] == [1]


def test_a_round_stair_takes_one_bent_profile() -> None:
    stair = Obstruction("stair", centre=(2000, 1500), diameter=1000)
    [run] = taken(room_of(SQUARE, obstructions=(stair,))).answer
    assert run.length_m == pytest.approx(3.1416, abs=0.002)


@pytest.mark.parametrize(
    ("adjoining", "above", "expected"),
    [
        ("carpet", 0.0, "carpet"),
        ("carpet", None, "carpet"),
        ("carpet", 25.0, "beyond"),
        ("wood", 0.0, "level"),
        ("wood", 1.9, "level"),
        ("wood", 2.1, "reducer"),
        ("wood", -5.0, "beyond"),
        ("wood", 20.0, "reducer"),
        ("wood", 20.1, "beyond"),
        ("none", None, "reducer"),
        ("tile", 0.0, "joint"),
        ("tile", None, "joint"),
        ("tile", 8.0, "reducer"),
        (None, None, "level"),
    ],
)
def test_transitions(adjoining: str | None, above: float | None, expected: str) -> None:
    """`above` is how far the new floor stands above the one next door [mm] (common practice)."""
    room = room_of(SQUARE)
    level = None if above is None else finished_level_mm(room, VALUES) - above
    doorway = door(adjoining=adjoining, adjoining_level=level)
    assert meeting(room, doorway, VALUES) == expected
    bought_for = materials(replace(room, doorways=(doorway,)), "transition_profile")
    none = expected in ("joint", "beyond")
    assert [m.fitness[1].one_of for m in bought_for] == ([] if none else [(expected,)])
    assert [m.required for m in bought_for] == ([] if none else [0.9])


def test_what_is_not_known_of_a_doorway_is_asked() -> None:
    assert verdicts(with_door()) == [("doorway_adjoining", "condition")]
    assert verdicts(with_door(adjoining="wood")) == [("doorway_level", "condition")]
    assert verdicts(with_door(adjoining="carpet")) == [("doorway_level", "condition")]
    asked = [taken(with_door(**said)).step.findings[0].asks for said in ({}, {"adjoining": "carpet"})]
    assert asked == ["adjoining", "adjoining_level"]


def test_a_level_without_a_covering_is_not_taken_for_another() -> None:
    """What is printed as assumed is only what was not told."""
    level = finished_level_mm(room_of(SQUARE), VALUES) - 8.0
    found = taken(with_door(adjoining_level=level)).step.findings
    assert [(f.rule, f.asks) for f in found] == [
        ("doorway_adjoining", "adjoining_covering"),
        ("doorway_step", ""),
    ]
    [assumed] = assumptions.take("assumption", [("Hall", found)], VALUES)
    assert "named" in assumed
    assert "lie level" not in assumed
    [both] = assumptions.take("assumption", [("Hall", taken(with_door()).step.findings)], VALUES)
    assert "lie level" in both


def test_a_ramp_must_take_the_step() -> None:
    """Low and high ramps are bought apart, and a step that none takes is told and not bought."""
    level = finished_level_mm(room_of(SQUARE), VALUES)
    steps = (4.0, 9.0, 15.0, 25.0)
    doors = tuple(
        door(wall=wall, adjoining="wood", adjoining_level=level - step) for wall, step in enumerate(steps)
    )
    room = room_of(SQUARE, doorways=doors)
    low, high = materials(room, "transition_profile")
    ranges = [[(f.attribute, f.at_least or f.at_most) for f in m.fitness[2:]] for m in (low, high)]
    assert ranges == [
        [("ramp_from_mm", pytest.approx(4.0)), ("ramp_to_mm", pytest.approx(9.0))],
        [("ramp_from_mm", pytest.approx(15.0)), ("ramp_to_mm", pytest.approx(15.0))],
    ]
    assert (low.required, high.required) == (1.8, 0.9)
    assert ["none is priced" in f.message for f in taken(room).step.findings] == [False, False, False, True]


@pytest.mark.parametrize(
    ("step", "leaf", "cut"), [(4.0, True, 0), (6.0, True, 1), (6.0, False, 0), (25.0, True, 0)]
)
def test_a_leaf_that_would_drag_is_trimmed(step: float, leaf: bool, cut: int) -> None:
    """A leaf hangs about 5 mm over the floor that it swings over (common practice)."""
    level = finished_level_mm(room_of(SQUARE), VALUES) - step
    work = taken(with_door(adjoining="wood", adjoining_level=level, leaf=leaf)).step.work
    assert sum(each.quantity for each in work if each.activity == "trim_leaf") == cut
    unknown = assumptions.take("exclusion", [("Hall", taken(with_door()).step.findings)], VALUES)
    assert "Trimming door leaves" in unknown[0]
    high = taken(with_door(adjoining="wood", adjoining_level=level + step - 25)).step.findings
    assert "Thresholds" in assumptions.take("exclusion", [("Hall", high)], VALUES)[0]


def test_a_step_is_told_and_a_high_one_wants_a_ramp() -> None:
    # ADA Standards 303.3 (from memory): to 1/2 in with a bevel.
    level = finished_level_mm(room_of(SQUARE), VALUES)
    low, high = (with_door(adjoining="wood", adjoining_level=level - step) for step in (12.0, 13.0))
    assert verdicts(low) == verdicts(high) == [("doorway_step", "condition")]
    texts = [taken(room).step.findings[0].message for room in (low, high)]
    assert ["ramp" in text for text in texts] == [False, True]


def test_work_on_profiles_and_jambs() -> None:
    room = room_of(
        SQUARE, walls=(0, 1, 3), doorways=(door(adjoining="carpet"), door(wall=1, adjoining="tile"))
    )
    work = {(w.activity, w.driver): w.quantity for w in taken(room).step.work}
    assert work == {("profile", "profile_metres"): pytest.approx(4.9), ("undercut_jamb", "count"): 4}


def test_nothing_bare_needs_nothing() -> None:
    assert taken(room_of(SQUARE)) == ProfilesTake((), type(taken(room_of(SQUARE)).step)())


# Cutting from the trade's usual stick; the proofs of the cutting itself stand with it.


@given(st.lists(st.integers(1, 9000), max_size=20), st.integers(500, 3000), st.integers(0, 5))
def test_sticks_hold_every_piece(lengths: list[int], stick: int, kerf: int) -> None:
    runs = CutLengths(runs_of(map(float, lengths)), float(kerf), 100.0)
    plan = from_sticks(runs, float(stick))
    pieces = [piece for pattern in plan.patterns for piece in pattern.pieces * pattern.times]
    assert fsum(pieces) == pytest.approx(sum(lengths))
    assert joints(runs, plan) == sum(ceil(length / stick) - 1 for length in lengths)
    assert all(
        fsum(pattern.pieces) + kerf * (len(pattern.pieces) - 1) <= stick + 0.02 * len(pattern.pieces)
        for pattern in plan.patterns
    )
    least, length = ceil(sum(lengths) / stick - 1e-9), bought(plan, float(kerf))
    assert least <= plan.sticks == ceil(length / stick - 1e-9)
    assert length >= sum(lengths) + sawn(plan, float(kerf)) - 1e-6


def test_a_run_longer_than_a_stick_is_joined_over_a_connector() -> None:
    # 4.0 m of 8 ft sticks: 2.4384 + 1.5616.
    room = room_of(SQUARE, walls=(0, 1, 3))
    assert fitted(room) == {profiles.CONNECTORS: 1}
    assert materials(room, "edge_profile")[0].lengths == CutLengths(((4000.0, 1),), 3.0, 300.0)
    # 5.0 m: 2.4384 + 2.4384 + 0.1232, which is too short: the second gives it 0.1768.
    long = room_of(rectangle(5000, 3000), walls=(0, 1, 3))
    [profile] = materials(long, "edge_profile")
    assert profile.lengths is not None
    plan = from_sticks(profile.lengths, 2438.4)
    pieces = sorted(piece for pattern in plan.patterns for piece in pattern.pieces * pattern.times)
    assert pieces == pytest.approx([300.0, 2261.6, 2438.4])


def test_five_doorways_take_three_sticks() -> None:
    # Five runs of 0.9 m: two from an 8 ft stick (2.4384 m), so three sticks, though 4.5 m would be two.
    doors = tuple(door(wall=wall, adjoining="carpet") for wall in (0, 1, 2, 3))
    doors += (door(wall=0, offset=2000, adjoining="carpet"),)
    [profile] = materials(room_of(SQUARE, doorways=doors), "transition_profile")
    assert profile.required == pytest.approx(4.5)
    assert profile.with_allowance == pytest.approx(2 * 2.4384 + 0.9)
    assert fsum(reason.quantity for reason in profile.reasons) == pytest.approx(profile.with_allowance)
    assert "3 sticks" in profile.reasons[0].text
    assert profile.sticks is not None
    assert (profile.sticks.length_mm, profile.sticks.count, profile.sticks.gap) == (2438.4, 3, 0)
    # Two such rooms, each cut by itself.
    [both] = merged([profile, profile])
    assert both.sticks is not None
    assert (both.sticks.count, both.sticks.bound) == (6, 6)


def test_the_number_of_sticks_is_told_with_its_proof() -> None:
    # 2.6 m and twice 1.19 m are two sticks of 2.5 m; three runs of 7.6 m and one of 2 m eleven, perhaps ten.
    few = from_sticks(CutLengths(((2600.0, 1), (1190.0, 2)), 3.0, 300.0), 2500.0)
    assert (few.sticks, proof(few)) == (2, "proven the fewest")
    many = from_sticks(CutLengths(((7600.0, 3), (2000.0, 1)), 3.0, 300.0), 2500.0)
    assert (many.sticks, proof(many)) == (11, "no fewer than 10 can do")
