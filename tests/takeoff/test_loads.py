"""What a floor weighs, against handbook densities and layers added up by hand."""

from __future__ import annotations

from typing import Any

import pytest

from service.takeoff import falls, levelling, loads, substrate
from service.takeoff.answer import Finding
from service.takeoff.room import Flatness, Obstruction, Room, Substrate, Tile
from service.units import KG_M2_PER_LB_FT2
from tests.takeoff.floors import US, bill, layout, room, shape

DRAIN = Obstruction("drain", centre=(1200, 1100), diameter=110)
CONCRETE = Substrate("concrete_suspended")


def found(floor: Room) -> list[Finding]:
    step = substrate.take(floor, shape(floor), layout(), US)
    return [finding for finding in step.findings if finding.rule == "added_load"]


def weights(floor: Room) -> dict[str, float]:
    return dict(loads.layers_kg_m2(floor, shape(floor), US))


def bathroom(**said: Any) -> Room:
    """3.0 x 2.6 m, 7.8 m2, falling to a drain."""
    said = {"exposure": "wet", "waterproof": True, "obstructions": (DRAIN,), "falls": "point", **said}
    return room(3000, 2600, **said)


def test_tile_weight() -> None:
    """10 mm of porcelain at 2350 kg/m3 (from memory): 23.5 kg/m2, 4.813 lb/ft2."""
    weight = loads.tile_weight_kg_m2(10, "porcelain", US)
    assert weight == pytest.approx(23.5)
    assert weight / float(KG_M2_PER_LB_FT2) == pytest.approx(4.813, abs=1e-3)


def test_flood_load() -> None:
    """ASTM D5957 gives 5.19 lb/ft2 an inch: 10.38 for 2 in; water of 1000 kg/m3 makes 10.40."""
    load = loads.flood_load_kg_m2(50.8, US)
    assert load == pytest.approx(50.8)
    assert load / float(KG_M2_PER_LB_FT2) == pytest.approx(10.40, abs=0.01)
    assert load / float(KG_M2_PER_LB_FT2) == pytest.approx(2 * 5.19, rel=0.003)


def test_a_flood_test_on_a_spanning_floor_is_named() -> None:
    [wet] = found(room(exposure="wet", waterproof=True, curb=True, substrate=CONCRETE))
    [open_floor] = found(room(exposure="wet", waterproof=True, substrate=CONCRETE))
    assert "flood" not in open_floor.message
    [dry] = found(room(substrate=CONCRETE))
    assert "50.8 kg/m2" in wet.message
    assert "flood" not in dry.message
    assert {wet.verdict, dry.verdict} == {"condition"}


def test_a_floor_on_the_ground_is_not_asked_for_its_load() -> None:
    assert found(room(substrate=Substrate("concrete_on_ground"))) == []


def test_layers_of_a_plain_floor() -> None:
    # By hand at 45 degrees (ridges fill half of what the notches hold): 8 mm of ceramic at 2000 kg/m3 is
    # 16.0 kg/m2, and a floor of tile and mortar alone lies between 20 and 30 kg/m2 (common practice).
    plain = weights(room(tile=Tile(300, 300, thickness=8, material="ceramic"), substrate=CONCRETE))
    assert plain.keys() == {"tile", "bonding mortars"}
    assert plain["tile"] == pytest.approx(16.0)
    assert 20 <= sum(plain.values()) <= 30


def test_the_fall_screed_is_most_of_a_bathrooms_load() -> None:
    # The screed that is bought, less its loss, over the floor of 7.8 m2.
    floor = bathroom(substrate=CONCRETE)
    bought = bill(falls.screeded(floor, shape(floor), US))["fall_screed"].required
    screed = weights(floor)["fall screed"]
    assert screed == pytest.approx(bought / 7.8)
    assert screed > sum(weights(floor).values()) / 2
    [told] = found(floor)
    assert f"fall screed {screed:.1f}" in told.message
    assert f"adds {sum(weights(floor).values()):.1f} kg/m2" in told.message


def test_a_screed_adds_its_own_weight_and_nothing_else() -> None:
    with_screed, without = weights(bathroom()), weights(bathroom(falls="none"))
    screed = with_screed.pop("fall screed")
    assert with_screed == without
    # By hand: planes to the drain from the furthest corner, hypot(1800, 1500) = 2343.1 mm; two thirds of it
    # falling 1/48 are 32.54 mm; and the least depth at the drain, at 2.0 kg/m2 a mm.
    assert screed == pytest.approx((32.54 + US.number("falls.least_depth")) * 2.0, abs=0.02)


def test_levelling_weighs_what_is_bought_of_it() -> None:
    uneven = room(substrate=Substrate("concrete_suspended", flatness=Flatness(10, 3000)))
    bought = bill(levelling.take(uneven, shape(uneven), layout(), US))["levelling_compound"].required
    assert weights(uneven)["levelling compound"] == pytest.approx(bought / 20)
