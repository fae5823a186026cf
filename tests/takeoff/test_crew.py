"""Crew instructions and tools: chosen by the job, in the order of building, each said once (practice)."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from service.takeoff import take_off
from service.takeoff.answer import Takeoff
from service.takeoff.crew import INSTRUCTIONS
from service.takeoff.room import Existing, Flatness, Job, Membrane, Room, Skirting, Substrate, Tile
from service.takeoff.tools import TOOLS
from tests.takeoff.floors import BY_STANDARDS, US, room
from tests.takeoff.rooms import ALL, JOB, KITCHEN, LABOUR, WET_L

DRY_SLAB = room(substrate=Substrate("concrete_on_ground"))


def taken(*floors: Room, standards: str = "us") -> Takeoff:
    return take_off(Job(floors, standards=standards), BY_STANDARDS[standards], LABOUR)  # type: ignore[arg-type]


def said(*floors: Room) -> str:
    return "\n".join(instruction.text for instruction in taken(*floors).instructions)


@pytest.mark.parametrize(
    ("floor", "words"),
    [
        (DRY_SLAB, "more fluid than for tile, only so far that it still holds the notch"),
        (DRY_SLAB, "thin coat into the ground with the flat side"),
        (DRY_SLAB, "V notch 1/4 x 3/16 in"),
        (replace(DRY_SLAB, membrane=Membrane("thick")), "square notch 1/4 x 1/4 in"),
        (WET_L, "corner pieces first, in mortar combed with a square notch 1/4 x 1/4 in"),
        (WET_L, "stops short of the corner wherever it still laps the corner piece by 50 mm"),
        (DRY_SLAB, "short sections, so that the mortar does not skin over"),
        (DRY_SLAB, "dampen it before mortar; mop up any water that stands"),
        (DRY_SLAB, "Lift a corner now and then"),
        (DRY_SLAB, "at most 34 kg"),
        (DRY_SLAB, "Fill the membrane's cavities"),
        (KITCHEN, "Large tile: butter the whole back"),
        (DRY_SLAB, "until the ridges fall shut"),
        (DRY_SLAB, "until after grouting, then cut it off"),
        (DRY_SLAB, "Tile may follow on the membrane at once"),
        (WET_L, "at least 95% of its back"),
        (DRY_SLAB, "at least 80% of its back"),
        (replace(DRY_SLAB, existing=Existing("tile")), "Take the old covering out"),
        (replace(DRY_SLAB, heating="electric"), "Embed the cable wholly in levelling compound"),
        (replace(DRY_SLAB, skirting=Skirting(80)), "Stick the skirting tile last"),
        (room(length=16_000, width=9_000, movement_joint="profile"), "Set movement joint profiles"),
        (WET_L, "stand the foam strip against the finished band"),
        (DRY_SLAB, "Stand the foam strip along every wall"),
    ],
)
def test_what_plans_forget_is_said(floor: Room, words: str) -> None:
    assert words in said(floor)


@pytest.mark.parametrize(
    ("floor", "words"),
    [
        (replace(DRY_SLAB, membrane=None), "cavities"),
        (replace(DRY_SLAB, substrate=Substrate("plywood_on_joists")), "dampen"),
        (replace(DRY_SLAB, substrate=Substrate("screed_cement")), "dampen"),  # primed
        (
            replace(DRY_SLAB, substrate=Substrate("concrete_on_ground", flatness=Flatness(9, 3000))),
            "dampen",  # primed and levelled
        ),
        (DRY_SLAB, "butter"),
        (DRY_SLAB, "corner pieces"),
        (DRY_SLAB, "cable"),
    ],
)
def test_what_is_not_in_the_job_is_not_said(floor: Room, words: str) -> None:
    assert words not in said(floor)


def test_a_profile_over_the_strip_has_it_cut_down() -> None:
    chosen = replace(DRY_SLAB, floor_to_wall="profile")
    assert "cut the foam strip down" in said(chosen)
    assert "cut it off flush" not in said(chosen)


def test_a_profile_on_top_of_the_skirting_leaves_the_strip_until_after_grouting() -> None:
    chosen = replace(DRY_SLAB, skirting=Skirting(80), choices=(("skirting_profile", "one"),))
    assert "cut the foam strip down" not in said(chosen)
    assert "cut it off flush" in said(chosen)


def test_an_embedded_cable_is_fixed_before_it_is_covered() -> None:
    """In compound, with falls in the screed, and laid into the mat that holds it."""
    heated = replace(DRY_SLAB, heating="electric")
    for floor, embedded in ((heated, "levelling compound"), (replace(heated, falls="point"), "fall screed")):
        told = taken(floor)
        texts = [(each.step, each.text) for each in told.instructions if "cable" in each.text]
        assert [step for step, _ in texts] == ["level"] * 3
        assert "Fix the heating cable" in texts[0][1]
        assert f"wholly in {'the ' if floor.falls != 'none' else ''}{embedded}" in texts[2][1]
        assert embedded.replace(" ", "_") in {material.role for material in told.materials}
    held = taken(replace(heated, membrane=Membrane("thick"))).instructions
    assert {each.step for each in held if "cable" in each.text} == {"membrane"}


def test_instructions_come_in_the_order_of_building() -> None:
    stages = [str(row["stage"]) for row in US.table("schedule.stages")]
    assert [stages.index(step) for step, _, _ in INSTRUCTIONS] == sorted(
        stages.index(step) for step, _, _ in INSTRUCTIONS
    )
    told = [stages.index(instruction.step) for instruction in taken(*ALL).instructions]
    assert told == sorted(told)


def test_each_is_said_once_with_its_rooms() -> None:
    told = taken(*ALL).instructions
    assert len({(each.step, each.text) for each in told}) == len(told)
    combed = [each.rooms for each in told if each.text.startswith("Comb the mortar for the membrane")]
    assert ("Kitchen",) in combed  # the thick one
    assert {name for each in told for name in each.rooms} == {floor.name for floor in ALL}
    assert all("{" not in each.text and each.source for each in told)


@pytest.mark.parametrize("standards", sorted(BY_STANDARDS))
def test_every_word_is_held_by_the_trade_values(standards: str) -> None:
    values = BY_STANDARDS[standards]
    for _, key, _ in INSTRUCTIONS:
        assert values[f"crew.{key}"].unit == "text"
    for key, _ in TOOLS:
        assert values[f"tool.{key}"].unit == "text"
    used = {f"crew.{key}" for _, key, _ in INSTRUCTIONS} | {f"tool.{key}" for key, _ in TOOLS}
    held = {key for key in values.by_key if key.startswith(("crew.", "tool."))}
    assert held - used == {"crew.roller"}


@pytest.mark.parametrize(
    ("floor", "standards", "there", "absent"),
    [
        (DRY_SLAB, "us", "notched trowel for the membrane: V notch 1/4 x 3/16 in", "trowel for bands"),
        (DRY_SLAB, "us", "75 lb (34 kg)", "hole saws"),
        (DRY_SLAB, "us", "(GFCI)", "suction frame"),
        (DRY_SLAB, "de", "residual current device", "GFCI"),
        (DRY_SLAB, "us", "relative humidity", "carbide"),
        (DRY_SLAB, "de", "carbide-method", "relative humidity"),
        (KITCHEN, "us", "wood moisture", "relative humidity"),
        (KITCHEN, "us", "resistance meter", "flood test"),
        (WET_L, "us", "notched trowel for bands: square notch 1/4 x 1/4 in", "resistance meter"),
        (replace(DRY_SLAB, tile=Tile(1200, 1200, 10)), "us", "suction frame", "trowel for bands"),
        (replace(DRY_SLAB, membrane=None), "us", "straightedge", "roller for the membrane"),
    ],
)
def test_tools_follow_the_work(floor: Room, standards: str, there: str, absent: str) -> None:
    tools = "\n".join(taken(floor, standards=standards).tools)
    assert there in tools
    assert absent not in tools


def test_the_rollers_load_is_seventy_five_pounds() -> None:
    """75 lb are 34.0 kg (NIST SP 811 B.8: 1 lb = 0.45359237 kg)."""
    assert US.number("crew.roller") == pytest.approx(75 * 0.45359237, abs=0.05)


def test_tools_are_listed_once() -> None:
    tools: Any = take_off(JOB, US, LABOUR).tools
    assert len(set(tools)) == len(tools)
