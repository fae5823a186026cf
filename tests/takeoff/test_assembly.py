"""The assembly's choices against tables of the standards and common practice; what is missing is asked."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from typing import Any, get_args

import pytest

from service.takeoff import assembly, mortar, primer, take_off
from service.takeoff.answer import Finding, Wait
from service.takeoff.notch import Notch, notch_named
from service.takeoff.room import Exposure, Heating, Job, Membrane, Room, Substrate, SubstrateKind, Tile
from service.trade.values import TradeValues
from tests.takeoff.floors import BY_STANDARDS, DE, UK, US, room, verdicts
from tests.takeoff.rooms import ALL, LABOUR

WET: dict[str, Any] = {"exposure": "wet", "waterproof": True}


def told(floor: Room, values: TradeValues = US, *waits: Wait) -> dict[str, Finding]:
    findings = assembly.findings(floor, waits, values)
    assert verdicts(findings)
    return {finding.rule: finding for finding in findings}


@pytest.mark.parametrize(
    ("kind", "ansi", "en"),
    [
        # Bond coat by ground: plain mortar on concrete and cement screed, A118.11 / C2 on wood, A118.4 / C2
        # on gypsum-bound, glazed and resilient ground (common practice; EN 12004: C1 0.5, C2 1.0 N/mm2).
        ("concrete_on_ground", "A118.1", "C1"),
        ("concrete_suspended", "A118.1", "C1"),
        ("concrete_young", "A118.1", "C1"),
        ("screed_cement", "A118.1", "C1"),
        ("screed_calcium_sulfate", "A118.4", "C2"),
        ("gypsum_underlayment", "A118.4", "C2"),
        ("plywood_on_joists", "A118.11", "C2"),
        ("osb_on_joists", "A118.11", "C2"),
        ("existing_tile", "A118.4", "C2"),
        ("existing_resilient", "A118.4", "C2"),
        ("screed_heated", "A118.4", "C2S1"),
        ("exterior_slab", "A118.15", "C2"),
        ("unknown", "A118.4", "C2"),
    ],
)
@pytest.mark.parametrize("values", [US, UK, DE], ids=["us", "uk", "de"])
def test_the_mortar_under_the_membrane(kind: SubstrateKind, ansi: str, en: str, values: TradeValues) -> None:
    said = told(room(substrate=Substrate(kind)), values)["membrane_mortar"]
    home, abroad = f"ANSI {ansi}", f"EN 12004 {en}"
    first, second = (home, abroad) if values.standards == "us" else (abroad, home)
    assert f"{first} or {second} mortar" in said.message
    assert said.verdict == ("condition" if kind == "unknown" else "pass")


@pytest.mark.parametrize(
    ("said", "ansi", "en"),
    [
        ({}, "A118.1", "C1"),  # plain mortar between two dense faces (trade texts)
        ({"heating": "water"}, "A118.4", "C2S1"),  # BS 5385-3 Annex C, from memory
        ({"exposure": "exterior"}, "A118.15", "C2"),  # common practice
        ({"exposure": "exterior", "heating": "water"}, "A118.15", "C2S1"),
        ({"membrane": None, "substrate": Substrate("plywood_on_joists")}, "A118.11", "C2"),
    ],
)
def test_the_mortar_under_the_tile(said: dict[str, Any], ansi: str, en: str) -> None:
    assert f"ANSI {ansi} or EN 12004 {en} mortar" in told(room(**said))["tile_mortar"].message


def test_what_is_told_is_what_is_bought() -> None:
    """The class taken first is among those that the material accepts, on every ground, in every use."""
    for kind, heat, exposure, mat, values in product(
        get_args(SubstrateKind),
        get_args(Heating),
        get_args(Exposure),
        (Membrane(), None),
        BY_STANDARDS.values(),
    ):
        floor = room(substrate=Substrate(kind), heating=heat, exposure=exposure, membrane=mat)
        for choice, accepted in (
            (mortar.membrane_mortar(floor, values), mortar.membrane_classes(floor, values)),
            (mortar.tile_mortar(floor, values), mortar.tile_classes(floor, values)),
        ):
            assert sorted((choice.ansi, choice.en, *choice.others)) == sorted(accepted)
            assert choice.ansi.startswith("A118.")
            assert choice.en.startswith("C")


@pytest.mark.parametrize(("edge", "large"), [(380, False), (381, True)])
def test_large_tile_takes_mortar_made_for_it(edge: float, large: bool) -> None:
    """ANSI A108: an edge of 15 in or more."""
    said = told(room(tile=Tile(edge, 300)))
    assert ("large and heavy" in said["tile_mortar"].message) is large
    assert ("Every back is buttered" in said["back_buttering"].message) is large


@pytest.mark.parametrize(
    ("values", "thickness", "words"),
    [
        # V 1/4 x 3/16 in or square 4.5 mm under a standard mat, square 1/4 in under a thick one (practice).
        (US, "standard", "V notch 1/4 x 3/16 in (6.35 x 4.76 mm)"),
        (US, "thick", "square notch 1/4 x 1/4 in (6.35 x 6.35 mm)"),
        (UK, "standard", "square notch 4.5 x 4.5 mm"),
        (DE, "standard", "square notch 4.5 x 4.5 mm"),
        (DE, "thick", "square notch 6 x 6 mm"),
    ],
)
def test_the_notch_under_the_membrane(values: TradeValues, thickness: Any, words: str) -> None:
    assert words in told(room(membrane=Membrane(thickness)), values)["membrane_notch"].message


def test_the_notch_under_bands() -> None:
    """Square 1/4 in (common practice)."""
    assert "square notch 1/4 x 1/4 in" in told(room(**WET))["band_notch"].message
    assert "band_notch" not in told(room())


@pytest.mark.parametrize(
    ("edge", "words"),
    [
        # By longest edge: 4-6 mm to 100 mm, 1/4 in to 200, 1/4 x 3/8 to 380, 1/2 to 600, U 3/4 x 9/16 over it
        # (common practice).
        (100, "square notch 4.5 x 4.5 mm"),
        (200, "square notch 1/4 x 1/4 in"),
        (300, "square notch 1/4 x 3/8 in"),
        (600, "square notch 1/2 x 1/2 in"),
        (900, "U notch 3/4 x 9/16 in"),
    ],
)
def test_the_notch_under_the_tile(edge: float, words: str) -> None:
    assert words in told(room(tile=Tile(edge, edge)))["tile_notch"].message


def test_notches_are_named_in_the_fractions_they_are_made_in() -> None:
    for row in US.table("mortar.notches"):
        words = notch_named(row["name"], US).words
        assert (" in (" in words) is (row["width"] * 16 % 25.4 < 1e-6 and row["depth"] * 16 % 25.4 < 1e-6)
    assert Notch("v", 6.35, 4.7625, 0).words == "V notch 1/4 x 3/16 in (6.35 x 4.76 mm)"


def test_standard_or_thick() -> None:
    assert "3 mm" in told(room())["membrane"].message
    assert "5.5 mm" in told(room(membrane=Membrane("thick")))["membrane"].message
    assert told(room(membrane=None))["membrane"].verdict == "condition"
    assert "membrane_notch" not in told(room(membrane=None))


@pytest.mark.parametrize(
    ("kind", "verdict", "words"),
    [
        ("screed_calcium_sulfate", "condition", "2 coats, with a primer for calcium sulfate"),
        ("existing_tile", "condition", "1 coat, with a primer for non absorbent"),
        ("screed_cement", "condition", "1 coat"),
        ("concrete_on_ground", "pass", "No primer"),
        ("unknown", "condition", "nobody said"),
    ],
)
def test_primer_is_told(kind: SubstrateKind, verdict: str, words: str) -> None:
    """Gypsum-bound ground two coats, dense ground a bridging coat (common practice)."""
    said = primer.finding(room(substrate=Substrate(kind)), US)
    assert said.verdict == verdict
    assert words in said.message


def test_a_nominal_size_becomes_a_work_size() -> None:
    """12 x 24 in nominal with a joint of 1/8 in is 11 7/8 x 23 7/8 in (ISO 13006, EN 14411)."""
    named = Tile(304.8, 609.6, size_is="nominal")
    said = told(room(tile=named, joint=3.175))["work_size"].message
    assert "304.8 x 609.6 is 301.625 x 606.425 mm" in said
    assert "work_size" not in told(room())


def test_waits_are_told_once_a_stage_with_their_sources() -> None:
    said = told(room(), US, Wait("level", 24, "a"), Wait("level", 6, "b"), Wait("flood_test", 24, "c"))[
        "waits"
    ]
    assert "24 h after level, 24 h after flood test" in said.message
    assert said.source == "a; c"


DECISIONS = {
    *("substrate", "flatness", "primer", "membrane_mortar", "membrane_notch", "tile_mortar", "tile_notch"),
    *("movement_joint_spacing", "movement_joint_filling", "change_of_plane", "contact", "back_buttering"),
    *("slip", "waits"),
}


@pytest.mark.parametrize("standards", ["us", "uk", "de"])
def test_every_decision_is_in_every_take_off(standards: Any) -> None:
    answer = take_off(Job(ALL, standards=standards), BY_STANDARDS[standards], LABOUR)
    for found in answer.rooms:
        rules = {finding.rule for finding in found.findings}
        assert rules >= DECISIONS
        assert rules & {"membrane", "heating_membrane"}
        assert rules & {"waterproofing", "exposure_class"}
        assert all(finding.message and finding.source for finding in found.findings)


def test_missing_facts_are_printed_as_assumptions() -> None:
    """An unknown ground is priced under a printed assumption and exclusion, and must be accepted."""
    unknown, known = room(name="Hall"), room(name="Bath", substrate=Substrate("concrete_on_ground"))
    answer = take_off(Job((unknown, known, replace(unknown, name="Hall 2"))), US, LABOUR)
    assert any(text.startswith("Hall, Hall 2: The ground is taken") for text in answer.assumptions)
    assert any(text.startswith("Hall, Hall 2: Making good") for text in answer.exclusions)
    assert any(text.startswith("Bath: ") and "dry enough" in text for text in answer.assumptions)
    assert [text.split(":")[0] for text in answer.to_accept] == ["Hall", "Hall 2"]
    assert not take_off(Job((known,)), US, LABOUR).to_accept


def test_every_fact_asked_for_has_its_assumption() -> None:
    for standards, values in BY_STANDARDS.items():
        answer = take_off(Job(ALL, standards=standards), values, LABOUR)  # type: ignore[arg-type]
        asked = {finding.asks for found in answer.rooms for finding in found.findings if finding.asks}
        assert {f"assumption.{fact}" for fact in asked} <= values.by_key.keys()
        assert len(answer.assumptions) == len(asked)
