"""What lies there already: removal, disposal, and asbestos by country and year."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from service.takeoff import existing, take_off
from service.takeoff.room import Existing, Job, Room, Substrate
from service.trade.values import TradeValues
from tests.takeoff.floors import DE, UK, US, bill, layout, room, shape, verdicts, work
from tests.takeoff.rooms import LABOUR

PLYWOOD = Substrate("plywood_on_joists", joist_spacing=400, deflection=480, thickness=22)


def take(floor: Room, values: TradeValues = US) -> Any:
    return existing.take(floor, shape(floor), layout(), values)


def covered(covering: Any, remove: bool = True, **said: Any) -> Room:
    return room(existing=Existing(covering, remove), **said)


@pytest.mark.parametrize("covering", ["carpet", "resilient", "tile", "wood", "laminate"])
def test_removal_and_disposal_take_the_floor(covering: Any) -> None:
    step = take(covered(covering, built_year=2015))
    assert work(step) == {f"remove_{covering}": pytest.approx(20)}
    assert verdicts(step.findings)["existing_covering"] == "condition"
    disposal = bill(step)["disposal"]
    assert (disposal.required, disposal.with_allowance) == (pytest.approx(20), pytest.approx(20))


@pytest.mark.parametrize("floor", [room(), covered("none"), covered("none", remove=False)])
def test_a_bare_floor_has_nothing_to_remove(floor: Room) -> None:
    step = take(floor)
    assert (step.materials, step.work, step.findings) == ((), (), ())


@pytest.mark.parametrize(
    ("covering", "expected"),
    [
        ("carpet", "refuse"),  # common practice
        ("laminate", "refuse"),
        ("wood", "condition"),
        ("tile", "condition"),
        ("resilient", "condition"),
    ],
)
def test_what_may_stay(covering: Any, expected: str) -> None:
    step = take(covered(covering, remove=False, built_year=2015))
    assert verdicts(step.findings)["existing_covering"] == expected
    assert (step.materials, step.work) == ((), ())


@pytest.mark.parametrize(
    ("values", "year", "expected"),
    [
        (US, 1980, "condition"),  # 29 CFR 1926.1101: presumed to 1980
        (US, 1981, "pass"),
        (UK, 1999, "condition"),  # before 2000 (from memory)
        (UK, 2000, "pass"),
        (DE, 1993, "condition"),  # ban of 31 October 1993 (from memory)
        (DE, 1994, "pass"),
        (US, None, "condition"),  # an unknown year is suspect
        (UK, None, "condition"),
        (DE, None, "condition"),
    ],
)
def test_asbestos_by_country_and_year(values: TradeValues, year: int | None, expected: str) -> None:
    step = take(covered("resilient", built_year=year), values)
    assert verdicts(step.findings)["asbestos"] == expected


def test_suspect_removal_waits_for_a_survey() -> None:
    found, _ = take(covered("resilient", built_year=1970)).findings
    assert "survey" in found.message
    assert "do not sand" in found.message
    assert "29 CFR 1926.1101" in found.source


def test_large_removals_are_notified_in_the_us() -> None:
    """40 CFR 61 subpart M: from 160 ft2, 14.86 m2 (from memory)."""
    large, small = covered("resilient"), room(3000, 4000, existing=Existing("resilient"))
    assert "authority" in take(large).findings[0].message
    assert "authority" not in take(small).findings[0].message
    assert "authority" not in take(large, UK).findings[0].message


def test_old_resilient_ground_is_suspect_too() -> None:
    found = verdicts(take(room(substrate=Substrate("existing_resilient"))).findings)
    assert found == {"asbestos": "condition"}


@pytest.mark.parametrize("covering", ["carpet", "laminate", "wood"])
def test_other_coverings_are_not_suspect(covering: Any) -> None:
    assert "asbestos" not in verdicts(take(covered(covering)).findings)


def test_boards_that_stay_leave_their_sheathing_to_others_and_that_is_accepted() -> None:
    answer = take_off(Job((covered("wood", remove=False, substrate=PLYWOOD),)), US, LABOUR)
    assert any("The sheathing over the boards is not in the price." in said for said in answer.exclusions)
    assert any("sheathing" in said for said in answer.to_accept)


@pytest.mark.parametrize(
    ("covering", "ground"), [("resilient", "existing_resilient"), ("tile", "existing_tile")]
)
def test_what_is_built_on_is_the_face_of_the_covering_that_stays(covering: Any, ground: Any) -> None:
    """Primer, mortar and questions are those of the same floor told as a ground on concrete."""
    slab = Substrate("concrete_suspended", deflection=480, age_days=400)
    kept = take_off(Job((covered(covering, remove=False, substrate=slab, built_year=2015),)), US, LABOUR)
    told = replace(slab, kind=ground, beneath="concrete_suspended")
    same = take_off(Job((room(substrate=told, built_year=2015),)), US, LABOUR)
    assert any(material.role == "primer" for material in kept.materials)
    assert (kept.materials, kept.labour) == (same.materials, same.labour)
    assert {found.rule for found in kept.rooms[0].findings} >= {"bonded", "primer"}
    rest = {f.message for f in kept.rooms[0].findings if f.rule not in {"existing_covering", "asbestos"}}
    assert rest <= {f.message for f in same.rooms[0].findings}
