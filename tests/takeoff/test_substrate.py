"""Grounds against the limits of published standards; a missing fact is always asked for."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from typing import Any, get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.takeoff import moisture, primer, structure, substrate, take_off
from service.takeoff.answer import Finding
from service.takeoff.room import (
    Existing,
    Exposure,
    Flatness,
    Heating,
    Job,
    Moisture,
    Obstruction,
    Room,
    Substrate,
    SubstrateKind,
    Tile,
    Zone,
)
from service.trade.values import TradeValues
from tests.takeoff.floors import BY_STANDARDS, DE, UK, US, bill, layout, room, shape, verdicts, work
from tests.takeoff.rooms import LABOUR

DRAIN = Obstruction("drain", centre=(1000, 1000), diameter=110)


def on(kind: SubstrateKind, **facts: Any) -> Room:
    return room(substrate=Substrate(kind, **facts))


def verdict(floor: Room, rule: str, values: TradeValues = US) -> str | None:
    return verdicts(substrate.findings(floor, values)).get(rule)


def finding(floor: Room, rule: str, values: TradeValues = US) -> Finding:
    return next(f for f in substrate.findings(floor, values) if f.rule == rule)


@pytest.mark.parametrize(
    ("kind", "method", "value", "values", "expected"),
    [
        ("concrete_on_ground", "rh", 75, US, "pass"),  # ASTM F2170
        ("concrete_on_ground", "rh", 76, US, "condition"),
        ("concrete_on_ground", "rh", 96, US, "refuse"),
        ("concrete_on_ground", "mver", 3, US, "pass"),  # ASTM F1869
        ("concrete_on_ground", "mver", 5, US, "condition"),
        ("concrete_suspended", "rh", 75, UK, "pass"),
        ("screed_cement", "cm", 2.0, DE, "pass"),  # DIN 18157 and DIN 18560 practice
        ("screed_cement", "cm", 2.1, DE, "condition"),
        ("screed_cement", "cm", 4.5, DE, "refuse"),
        ("screed_heated", "cm", 1.8, DE, "pass"),
        ("screed_heated", "cm", 1.9, DE, "condition"),
        ("screed_calcium_sulfate", "cm", 0.5, DE, "pass"),
        ("screed_calcium_sulfate", "cm", 0.6, DE, "refuse"),
        ("screed_calcium_sulfate", "rh", 75, UK, "pass"),  # NHBC Standards 9.3.5
        ("screed_calcium_sulfate", "rh", 76, UK, "refuse"),
        ("plywood_on_joists", "wood", 12, US, "pass"),  # from memory
        ("plywood_on_joists", "wood", 13, US, "condition"),
        ("osb_on_joists", "wood", 20, US, "refuse"),
        ("plywood_on_joists", "rh", 40, US, "condition"),  # the wrong method tells nothing
        ("concrete_on_ground", "wood", 5, US, "condition"),
    ],
)
def test_moisture(kind: Any, method: Any, value: float, values: TradeValues, expected: str) -> None:
    assert verdict(on(kind, moisture=Moisture(method, value)), "moisture", values) == expected


def test_water_heating_tightens_the_moisture_limit() -> None:
    """Calcium sulfate 0.5 CM-% plain, 0.3 heated (DIN 18560 practice)."""
    ground = Substrate("screed_calcium_sulfate", moisture=Moisture("cm", 0.4))
    assert verdict(room(substrate=ground), "moisture", DE) == "pass"
    assert verdict(room(substrate=ground, heating="water"), "moisture", DE) == "refuse"


@pytest.mark.parametrize(
    ("values", "method"), [(US, "relative humidity"), (UK, "relative humidity"), (DE, "carbide")]
)
def test_a_missing_reading_is_asked_for_by_the_countrys_method(values: TradeValues, method: str) -> None:
    asked = finding(on("screed_cement"), "moisture", values)
    assert asked.verdict == "condition"
    assert method in asked.message


@given(st.sampled_from(["rh", "cm", "mver"]), st.floats(0, 100), st.floats(0, 100))
def test_a_wetter_ground_is_never_judged_milder(method: Any, one: float, other: float) -> None:
    severity = {"pass": 0, "condition": 1, "refuse": 2}
    dry, wet = (
        verdict(on("concrete_on_ground", moisture=Moisture(method, value)), "moisture") or ""
        for value in sorted((one, other))
    )
    assert severity[dry] <= severity[wet]


@pytest.mark.parametrize(
    ("kind", "days", "values", "expected"),
    [
        ("concrete_on_ground", 28, US, "pass"),  # common practice
        ("concrete_young", 20, US, "condition"),
        ("concrete_young", 2, US, "refuse"),
        ("concrete_young", None, US, "condition"),
        ("concrete_on_ground", 41, UK, "condition"),  # NHBC Standards 9.3.5: about 6 weeks
        ("concrete_on_ground", 42, UK, "pass"),
        ("screed_cement", 21, UK, "pass"),  # NHBC Standards 9.3.5: about 3 weeks
        ("screed_cement", 20, UK, "condition"),
        ("screed_cement", None, DE, "condition"),
    ],
)
def test_age(kind: Any, days: float | None, values: TradeValues, expected: str) -> None:
    assert verdict(on(kind, age_days=days), "age", values) == expected


def test_young_concrete_without_an_uncoupling_membrane_is_refused() -> None:
    young = Substrate("concrete_young", age_days=20)
    assert verdict(room(substrate=young, membrane=None), "age") == "refuse"


@pytest.mark.parametrize(("thickness", "days"), [(30, 30), (40, 40), (60, 80)])
def test_drying_of_calcium_sulfate(thickness: float, days: float) -> None:
    """NHBC Standards 9.3.5: a day for each mm to 40 mm, then two."""
    assert moisture.drying_days(thickness, US) == days
    for age, expected in ((days, "pass"), (days - 1, "condition")):
        assert verdict(on("screed_calcium_sulfate", thickness=thickness, age_days=age), "drying") == expected


def test_a_reading_tells_more_than_reckoning() -> None:
    read = on("screed_calcium_sulfate", moisture=Moisture("cm", 0.4), thickness=60, age_days=10)
    assert verdict(read, "drying", DE) is None
    assert verdict(on("screed_calcium_sulfate"), "drying", DE) == "condition"


@pytest.mark.parametrize(("n", "inches"), [(360, 0.400), (720, 0.200)])
def test_allowed_deflection_over_twelve_feet(n: float, inches: float) -> None:
    """TCNA Handbook: 144 in / 360 and / 720."""
    assert structure.allowed_bend_mm(12 * 304.8, n) / 25.4 == pytest.approx(inches)


@pytest.mark.parametrize(
    ("kind", "material", "n", "expected"),
    [
        ("plywood_on_joists", "porcelain", 360, "pass"),
        ("plywood_on_joists", "ceramic", 359, "refuse"),
        ("plywood_on_joists", "stone", 480, "refuse"),
        ("plywood_on_joists", "stone", 720, "pass"),
        ("osb_on_joists", "porcelain", None, "condition"),
        ("concrete_suspended", "porcelain", 300, "refuse"),
        ("concrete_suspended", "porcelain", None, "condition"),
        ("concrete_on_ground", "stone", None, None),
        ("existing_tile", "porcelain", None, "condition"),  # what carries the old tile is asked for
        ("existing_resilient", "stone", 480, "refuse"),
        ("unknown", "porcelain", 480, "pass"),
        ("unknown", "porcelain", 300, "refuse"),
    ],
)
def test_deflection(kind: Any, material: Any, n: float | None, expected: str | None) -> None:
    floor = room(tile=Tile(300, 300, material=material), substrate=Substrate(kind, deflection=n))
    assert verdict(floor, "deflection") == expected


@pytest.mark.parametrize("kind", ["concrete_young", "exterior_slab"])
def test_how_a_slab_is_carried_is_asked_and_judged(kind: Any) -> None:
    """Neither its age nor its place tells whether a slab spans."""
    assert finding(on(kind), "deflection").asks == "deflection"
    assert verdict(on(kind, beneath="concrete_on_ground"), "deflection") is None
    spanning = on(kind, beneath="concrete_suspended")
    assert finding(spanning, "deflection").asks == "deflection"
    assert verdict(on(kind, beneath="concrete_suspended", deflection=300), "deflection") == "refuse"
    old = on("existing_tile", beneath=kind)
    assert finding(old, "deflection").asks == "deflection"


def test_a_span_says_how_far_it_may_bend() -> None:
    assert "10.2 mm over 3657.6 mm" in finding(on("plywood_on_joists", span=3657.6), "deflection").message


@pytest.mark.parametrize(
    ("spacing", "expected"),
    # TCNA Handbook, F-series: 16 in usual, 19.2 and 24 in with a thicker deck.
    [(406.4, "pass"), (487.68, "pass"), (609.6, "pass"), (700, "refuse"), (None, "condition")],
)
def test_joists(spacing: float | None, expected: str) -> None:
    assert verdict(on("plywood_on_joists", joist_spacing=spacing), "joist_spacing") == expected


@pytest.mark.parametrize(
    ("spacing", "thickness", "expected"),
    [(406.4, 18, "pass"), (487.68, 18, "refuse"), (487.68, 27, "pass"), (609.6, None, "condition")],
)
def test_joists_further_apart_want_a_thicker_deck(spacing: float, thickness: Any, expected: str) -> None:
    """Two sheets, 18 and 9 mm (common practice)."""
    floor = on("plywood_on_joists", joist_spacing=spacing, thickness=thickness)
    assert verdict(floor, "deck") == expected


@pytest.mark.parametrize(
    "kind", ["screed_cement", "screed_calcium_sulfate", "screed_heated", "gypsum_underlayment"]
)
def test_what_carries_a_screed_is_asked_and_judged(kind: Any) -> None:
    assert finding(on(kind), "deflection").asks == "deflection"
    assert verdict(on(kind, deflection=100), "deflection") == "refuse"
    assert verdict(on(kind, beneath="concrete_on_ground"), "deflection") is None
    joists = on(kind, beneath="plywood_on_joists")
    assert {"deflection", "joist_spacing"} <= {f.asks for f in substrate.findings(joists, US)}
    assert verdict(on(kind, beneath="concrete_suspended", deflection=400), "deflection") == "pass"


def test_outdoors_only_what_stands_the_weather() -> None:
    """Common practice."""
    for ground in (Substrate("plywood_on_joists"), Substrate("existing_tile", beneath="osb_on_joists")):
        assert verdict(room(substrate=ground, exposure="exterior"), "indoors_only") == "refuse"


@pytest.mark.parametrize(
    ("kind", "thickness", "expected"),
    [
        ("osb_on_joists", 18.256, "pass"),  # 23/32 in, TCNA Handbook F-series
        ("osb_on_joists", 15, "refuse"),
        ("plywood_on_joists", 15.08, "pass"),  # 19/32 in, from memory
        ("plywood_on_joists", 12, "refuse"),
        ("plywood_on_joists", None, "condition"),
    ],
)
def test_deck(kind: Any, thickness: float | None, expected: str) -> None:
    assert verdict(on(kind, thickness=thickness), "deck") == expected


def test_tile_is_never_bonded_straight_to_osb() -> None:
    bare = room(substrate=Substrate("osb_on_joists"), membrane=None)
    assert verdict(bare, "osb") == "refuse"
    assert verdict(on("osb_on_joists"), "osb") is None


@pytest.mark.parametrize(("thickness", "expected"), [(19, "pass"), (18, "refuse"), (None, "condition")])
def test_gypsum_underlayment_is_thick_enough(thickness: float | None, expected: str) -> None:
    """At least 3/4 in (from memory)."""
    assert verdict(on("gypsum_underlayment", thickness=thickness), "gypsum_thickness") == expected


def test_gypsum_and_water() -> None:
    """DIN 18534-1: none under a floor with a drain (from memory); elsewhere under waterproofing."""
    wet = room(exposure="wet", substrate=Substrate("screed_calcium_sulfate"))
    drained = room(exposure="wet", substrate=Substrate("screed_calcium_sulfate"), obstructions=(DRAIN,))
    assert verdict(wet, "gypsum_and_water", DE) == "condition"
    assert verdict(drained, "gypsum_and_water", DE) == "refuse"
    assert verdict(drained, "gypsum_and_water", US) == "condition"


@pytest.mark.parametrize("gypsum", ["screed_calcium_sulfate", "gypsum_underlayment"])
def test_gypsum_under_an_old_floor_is_gypsum(gypsum: Any) -> None:
    """What lies on it keeps no water out (DIN 18534-1, from memory)."""
    ground = Substrate("existing_tile", beneath=gypsum)
    drained = room(exposure="wet", waterproof=True, substrate=ground, obstructions=(DRAIN,))
    assert verdict(drained, "gypsum_and_water", DE) == "refuse"
    assert verdict(drained, "gypsum_and_water", US) == "pass"
    assert verdict(replace(drained, waterproof=False), "gypsum_and_water", US) == "condition"


def test_sealing_that_nobody_prices_is_excluded_and_accepted() -> None:
    wet = Zone(((0, 0), (1000, 0), (1000, 1000), (0, 1000)), "wet")
    ground = Substrate("screed_calcium_sulfate", moisture=Moisture("cm", 0.3))
    answer = take_off(Job((room(zones=(wet,), substrate=ground),)), US, LABOUR)
    assert any("Sealing of the whole floor" in said for said in answer.exclusions)
    assert any("Gypsum-bound ground must stay dry" in said for said in answer.to_accept)


@pytest.mark.parametrize(
    ("ground", "hours", "accepted"),
    [
        (Substrate("concrete_on_ground", moisture=Moisture("rh", 85), age_days=400), 14 * 24, True),
        (Substrate("concrete_young", moisture=Moisture("rh", 70), age_days=20), 8 * 24, False),
        # 60 mm of calcium sulfate screed: 40 + 2 x 20 = 80 days
        (Substrate("screed_calcium_sulfate", thickness=60, age_days=70), 10 * 24, False),
    ],
)
def test_ground_too_wet_or_too_young_waits(ground: Substrate, hours: float, accepted: bool) -> None:
    """After two weeks a wet ground is read again (common practice), concrete is 28 days old."""
    answer = take_off(Job((room(substrate=ground),)), US, LABOUR)
    assert [wait.hours for wait in answer.schedule.waits if wait.after == "prepare"] == [hours]
    assert any("85" in said for said in answer.to_accept) is accepted
    assert any("dryers" in said for said in answer.exclusions) is accepted
    later = replace(room(substrate=ground), existing=Existing("tile", True))
    torn = take_off(Job((later,)), US, LABOUR)
    dry = replace(later, substrate=Substrate("concrete_on_ground", moisture=Moisture("rh", 70), age_days=400))
    assert torn.schedule.visits > take_off(Job((dry,)), US, LABOUR).schedule.visits


@pytest.mark.parametrize("kind", ["screed_calcium_sulfate", "gypsum_underlayment", "osb_on_joists"])
def test_some_grounds_stay_indoors(kind: Any) -> None:
    assert verdict(room(exposure="exterior", substrate=Substrate(kind)), "indoors_only") == "refuse"
    assert verdict(on(kind), "indoors_only") is None


def test_outdoor_slope_is_asked_for_unless_built() -> None:
    slab = Substrate("exterior_slab")
    assert verdict(room(exposure="exterior", substrate=slab), "slope") == "condition"
    assert verdict(room(exposure="exterior", substrate=slab, falls="linear"), "slope") == "pass"


@pytest.mark.parametrize("heating", ["water", "electric"])
def test_heating_asks_for_its_records(heating: Any) -> None:
    assert verdict(room(heating=heating), "heating") == "condition"
    assert verdict(on("screed_heated"), "heating") == "condition"
    assert verdict(room(), "heating") is None


@pytest.mark.parametrize("kind", get_args(SubstrateKind))
@pytest.mark.parametrize("standards", sorted(BY_STANDARDS))
def test_nothing_known_is_never_all_well(kind: Any, standards: str) -> None:
    """With the kind alone every rule that speaks asks; none passes or refuses by silence."""
    found = verdicts(substrate.findings(on(kind), BY_STANDARDS[standards]))
    assert found["substrate"] == "condition"
    assert set(found.values()) == {"condition"}


def test_every_combination_is_judged() -> None:
    for kind, heating, exposure, values in product(
        get_args(SubstrateKind), get_args(Heating), get_args(Exposure), BY_STANDARDS.values()
    ):
        floor = room(substrate=Substrate(kind), heating=heating, exposure=exposure)
        assert verdicts(substrate.findings(floor, values))


def test_messages_speak_of_the_countrys_source() -> None:
    assert "NHBC" in finding(on("concrete_on_ground", age_days=50), "age", UK).source
    assert "F2170" in finding(on("concrete_on_ground", moisture=Moisture("rh", 70)), "moisture").source


@pytest.mark.parametrize(
    ("kind", "coats", "word"),
    [
        ("screed_cement", 1, "absorbent"),  # common practice throughout
        ("screed_calcium_sulfate", 2, "calcium_sulfate"),
        ("gypsum_underlayment", 2, "calcium_sulfate"),
        ("existing_tile", 1, "non_absorbent"),
        ("existing_resilient", 1, "non_absorbent"),
    ],
)
def test_primer(kind: Any, coats: int, word: str) -> None:
    """20 m2 at 0.1 l for each m2 and coat, 5 % loss."""
    floor = on(kind)
    step = substrate.take(floor, shape(floor), layout(), US)
    made = bill(step)["primer"]
    assert made.required == pytest.approx(2 * coats)
    assert made.with_allowance == pytest.approx(2.1 * coats)
    assert made.fitness[0].one_of == (word,)
    assert work(step)["prime"] == pytest.approx(20 * coats)
    assert [wait.after for wait in step.waits] == ["prime"]


@pytest.mark.parametrize("kind", ["plywood_on_joists", "concrete_on_ground", "unknown"])
def test_primer_under_compound_only(kind: Any) -> None:
    assert primer.coats_of(on(kind), US) == 0
    assert primer.coats_of(on(kind, flatness=Flatness(9, 3000)), US) == 1
    assert primer.coats_of(room(substrate=Substrate(kind), falls="point"), US) == 1


def test_laitance_and_glaze_are_ground_off_but_never_old_resilient() -> None:
    def ground(kind: SubstrateKind) -> float:
        floor = on(kind)
        return work(substrate.take(floor, shape(floor), layout(), US)).get("grind", 0)

    assert ground("screed_calcium_sulfate") == ground("existing_tile") == pytest.approx(20)
    assert ground("existing_resilient") == 0


OLD = ("existing_tile", "existing_resilient")


@pytest.mark.parametrize("kind", OLD)
def test_an_old_floor_is_asked_what_it_hides(kind: Any) -> None:
    """Nothing of moisture, age, stiffness and hold passes in silence (common practice)."""
    found = substrate.findings(on(kind), US)
    assert {f.asks for f in found if f.asks} == {"beneath", "bonded", "deflection"}
    assert "pass" not in {f.verdict for f in found}
    for asked in ("beneath", "bonded"):
        assert {f"assumption.{asked}", f"exclusion.{asked}"} <= US.by_key.keys()


@pytest.mark.parametrize("kind", OLD)
@pytest.mark.parametrize(
    ("below", "asked"),
    [
        ("concrete_on_ground", {"moisture", "age_days"}),
        ("screed_cement", {"moisture", "age_days", "deflection"}),
        ("screed_calcium_sulfate", {"moisture", "deflection"}),
        ("concrete_suspended", {"age_days", "deflection"}),
        ("plywood_on_joists", {"deflection", "joist_spacing", "thickness"}),
    ],
)
def test_what_lies_beneath_an_old_floor_decides_what_is_asked(kind: Any, below: Any, asked: set[str]) -> None:
    found = substrate.findings(on(kind, beneath=below, bonded=True), US)
    assert {f.asks for f in found if f.asks} == asked
    assert verdict(on(kind, beneath=below, bonded=True), "bonded") == "pass"


def test_a_reading_beneath_an_old_floor_is_judged() -> None:
    # ASTM F2170 and F1869 as on bare concrete; a wood-moisture reading tells that the ground is wood.
    wet = Moisture("rh", 96)
    assert verdict(on("existing_tile", beneath="concrete_on_ground", moisture=wet), "moisture") == "refuse"
    assert verdict(on("existing_tile", moisture=Moisture("mver", 3)), "moisture") == "pass"
    assert verdict(on("existing_tile", moisture=Moisture("wood", 25)), "moisture") == "refuse"


def test_a_loose_old_floor_comes_out() -> None:
    assert verdict(on("existing_tile", bonded=False), "bonded") == "refuse"
    assert verdict(on("concrete_on_ground"), "bonded") is None
