"""Each country's floors are judged by its own standards, in its own units."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from typing import get_args

import pytest

from service.takeoff import take_off
from service.takeoff.answer import Takeoff
from service.takeoff.room import (
    Doorway,
    Flatness,
    Job,
    Moisture,
    Obstruction,
    Pattern,
    Room,
    Standards,
    Substrate,
    SubstrateKind,
    Tile,
    Zone,
)
from tests.takeoff.floors import BY_STANDARDS, room
from tests.takeoff.rooms import ALL, LABOUR

AMERICAN = re.compile(
    r"ASTM|TCNA|\bADA\b|CFR|NIOSH|EJ171|ANSI A(?!118)|plumbing codes|"  # bodies and texts
    r"(?<![a-z\d.])[\d./]+ in\b|\d ft\b|\blb\b|\bpsi\b|°F"  # units
)
DRAIN = Obstruction("drain", centre=(900, 1200), diameter=110)


def floors() -> Iterator[Room]:
    """The example rooms, every ground read and unread, large stone in a long bond, wet zones and steps."""
    yield from ALL
    for kind in get_args(SubstrateKind):
        yield room(name=f"{kind}, unread", substrate=Substrate(kind))
        read = Substrate(
            kind,
            flatness=Flatness(9, 3000),
            moisture=Moisture("wood" if "joists" in kind else "rh", 60),
            age_days=365,
            thickness=60,
            joist_spacing=500,
            span=4000,
            deflection=400,
        )
        yield room(name=f"{kind}, read", substrate=read, heating="water")
    yield room(
        name="Long stone",
        tile=Tile(900, 450, thickness=20, material="stone"),
        pattern=Pattern("running_bond", offset=1 / 2),  # type: ignore[arg-type]
        doorways=(Doorway(0, 500, 900, "wood", -20), Doorway(1, 500, 900), Doorway(2, 500, 900, "carpet")),
        movement_joint="profile",
        floor_to_wall="profile",
    )
    zone = Zone(((0, 0), (1500, 0), (1500, 1500), (0, 1500)), "wet", sunlit=True)
    zoned = {"zones": (zone,), "waterproof": True, "sealed_zones_only": True}
    yield room(name="Zoned", obstructions=(DRAIN,), **zoned)
    yield room(name="Open wet", exposure="wet", waterproof=True)
    yield room(name="Tight", perimeter_joint=0, joint=1, tile=Tile(40, 40, thickness=4))


def taken(standards: Standards) -> Takeoff:
    named = (replace(each, name=f"Floor {number}", origin="corner") for number, each in enumerate(floors()))
    return take_off(Job(tuple(named), standards), BY_STANDARDS[standards], LABOUR)


def texts(answer: Takeoff) -> Iterator[str]:
    for floor in answer.rooms:
        for finding in floor.findings:
            yield f"{finding.rule}: {finding.message} | {finding.source}"
    for instruction in answer.instructions:
        yield f"{instruction.text} | {instruction.source}"
    yield from (wait.source for wait in answer.schedule.waits)
    yield from (*answer.cautions, *answer.assumptions, *answer.exclusions, *answer.tools)


@pytest.mark.parametrize("standards", ["uk", "de"])
def test_no_american_text_or_unit_is_cited_elsewhere(standards: Standards) -> None:
    """ANSI A118's mortar classes alone stay, beside those of EN 12004."""
    said = list(texts(taken(standards)))
    assert [text for text in said if AMERICAN.search(text)] == []
    assert all("EN 12004" in text for text in said if "A118" in text and "mortar" in text)


def test_the_same_floors_show_american_texts_at_home() -> None:
    """What the other tests look for is there to be found."""
    assert sum(bool(AMERICAN.search(text)) for text in texts(taken("us"))) > 50


@pytest.mark.parametrize(
    ("key", "us", "uk", "de"),
    [
        # ANSI A108.02-4.3.7: 1/32 and 1/16 in; BS 5385-3, from memory: 1 and 2 mm; Germany 1.5 mm, practice.
        ("checks.lippage_narrow", 25.4 / 32, 1.0, 1.5),
        ("checks.lippage_wide", 25.4 / 16, 2.0, 1.5),
        # The tile's warpage comes on top by ANSI, and is in the British limit (from memory).
        ("checks.lippage_warpage", 1, 0, 1),
        # ANSI A108.02: large tile from 15 in; elsewhere about 400 mm (common practice).
        ("setting.large_format_edge", 15 * 25.4, 400, 400),
        # TCNA: joists at 16 and 24 in; metric elsewhere (common practice).
        ("substrate.joist_spacing", 16 * 25.4, 400, 400),
        ("substrate.joist_spacing_most", 24 * 25.4, 600, 600),
        # Plumbing codes: 2 in of water; 50 mm elsewhere (common practice).
        ("substrate.flood_head", 50.8, 50, 50),
        # NIOSH's load constant 51 lb; 25 kg in the Manual Handling Operations Regulations (from memory).
        ("checks.one_person_lift", 23, 25, 25),
    ],
)
def test_values_of_each_country(key: str, us: float, uk: float, de: float) -> None:
    for standards, value in (("us", us), ("uk", uk), ("de", de)):
        assert BY_STANDARDS[standards].number(key) == pytest.approx(value)


@pytest.mark.parametrize(
    ("key", "uk", "de"),
    [
        ("movement_joints.change_of_plane", "BS 5385-3", "DIN 18560-2"),
        ("movement_joints.substrate_joints", "BS 5385-3", "DIN 18157-1"),
        ("substrate.must.concrete_on_ground", "BS 8204-1", "DIN 18157-1"),
        ("checks.absorption", "EN 14411", "EN 14411"),
        ("checks.contact_wet", "BS 5385-3", "DIN 18157-1"),
        ("levelling.flatness", "BS 8204", "DIN 18202"),
        ("waterproofing.class.wet", "BS 5385-4", "DIN 18534"),
    ],
)
def test_sources_of_each_country(key: str, uk: str, de: str) -> None:
    assert uk in BY_STANDARDS["uk"].citation(key)
    assert de in BY_STANDARDS["de"].citation(key)
