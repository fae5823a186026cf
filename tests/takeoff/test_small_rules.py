"""Rules of a few floors only: heated decks, stone, wet doorways, mortar on a fall screed."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from service.takeoff import checks, moisture, mortar, substrate
from service.takeoff.room import Doorway, Moisture, Substrate, Tile
from service.takeoff.waterproofing_rules import sealed
from tests.takeoff.floors import DE, US, layout, room, shape


@pytest.mark.parametrize(("kind", "word"), [("plywood_on_joists", "deck"), ("screed_cement", "screed")])
def test_the_record_of_a_heating_is_that_of_its_layer(kind: Any, word: str) -> None:
    floor = room(substrate=Substrate(kind), heating="water")
    [found] = [f for f in substrate.findings(floor, US) if f.rule == "heating"]
    assert word in found.message


def test_stone_asks_its_supplier() -> None:
    floor = room(tile=Tile(300, 300, material="stone"))
    found = {f.rule: f for f in checks.take(floor, shape(floor), layout(), US).findings}
    assert (found["stone"].verdict, found["stone"].asks) == ("condition", "stone")
    plain = room()
    assert "stone" not in {f.rule for f in checks.take(plain, shape(plain), layout(), US).findings}


def test_a_wet_doorway_wants_a_water_stop() -> None:
    wet = room(exposure="wet", waterproof=True, doorways=(Doorway(0, 1000, 900, "tile", 0.0),))
    assert "water_stop" in {f.rule for f in sealed(wet, shape(wet), US)}
    closed = replace(wet, doorways=())
    assert "water_stop" not in {f.rule for f in sealed(closed, shape(closed), US)}


def test_the_membrane_lies_on_the_fall_screed() -> None:
    """Not on the gypsum or the wood below it."""
    below = room(substrate=Substrate("plywood_on_joists"))
    on_cement = mortar.membrane_mortar(room(substrate=Substrate("screed_cement")), US)
    assert mortar.membrane_mortar(replace(below, falls="point"), US) == on_cement
    assert mortar.membrane_mortar(below, US) != on_cement


def test_the_meter_is_that_of_the_reading() -> None:
    read = room(substrate=Substrate("screed_cement", moisture=Moisture("cm", 1.5)))
    assert "carbide" in moisture.method_words(read, US)
    assert "relative humidity" in moisture.method_words(room(substrate=Substrate("screed_cement")), US)
    assert "carbide" in moisture.method_words(room(substrate=Substrate("screed_cement")), DE)
