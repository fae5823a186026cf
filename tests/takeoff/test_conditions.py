"""A condition is in materials, hours or waits, or the offer says what is taken for it and left out."""

from __future__ import annotations

from random import Random
from typing import Any

import pytest

from service.takeoff import take_off
from service.takeoff.answer import Finding, Step
from service.takeoff.existing import on_kept
from service.takeoff.flow import room_flow
from service.takeoff.room import Job, Tile
from service.takeoff.shared import Shared
from service.trade.values import TradeValues
from tests.render.found import floor_with_much_to_say
from tests.takeoff.floors import BY_STANDARDS, US, room
from tests.takeoff.rooms import LABOUR

DECLARED = {"slip", "frost", "age_days", "declared"}
"""What is asked of others and costs nothing: taken for granted, with nothing to leave out."""
LEFT_TO_OTHERS = {"moisture_over", "sheathing", "gypsum_sealing", "tile_limits", "unsealed", "no_membrane"}
"""What is known and nobody prices: accepted before the issue."""


def rows(values: TradeValues) -> dict[str, Any]:
    return {row["rule"]: row for row in values.table("conditions.rules")}


def in_the_step(step: Step, beginnings: list[str]) -> bool:
    named = [
        *(material.role for material in step.materials if material.with_allowance > 0),
        *(work.activity for work in step.work if work.quantity > 0),
        *(wait.after for wait in step.waits if wait.hours > 0),
    ]
    return any(name.startswith(tuple(beginnings)) for name in named)


def fault(finding: Finding, step: Step, values: TradeValues) -> str:
    """Why a condition is neither priced nor left out in so many words; empty where it is."""
    if not finding.asks:
        row = rows(values).get(finding.rule, {})
        return "" if in_the_step(step, row.get("priced", ["nothing"])) else f"{finding.rule} is not priced"
    told = {kind for kind in ("assumption", "exclusion") if f"{kind}.{finding.asks}" in values.by_key}
    wanted = {"assumption"} if finding.asks in DECLARED else {"assumption", "exclusion"}
    if not wanted <= told:
        return f"{finding.asks} is not told"
    return "" if finding.accept or finding.asks not in LEFT_TO_OTHERS else f"{finding.asks} is not accepted"


@pytest.mark.parametrize("standards", sorted(BY_STANDARDS))
def test_every_condition_is_priced_or_left_out_in_so_many_words(standards: str) -> None:
    draw, values = Random(standards), BY_STANDARDS[standards]
    met: set[str] = set()
    for number in range(26):
        floor = on_kept(floor_with_much_to_say(draw, number))
        flow = room_flow(floor, values, Shared())
        conditions = [found for found in flow.answer.findings if found.verdict == "condition"]
        assert [told for found in conditions if (told := fault(found, flow.step, values))] == []
        met |= {found.rule for found in conditions}
    assert len(met) > 25


def test_what_is_taken_for_granted_is_printed_and_accepted() -> None:
    answer = take_off(Job((room(tile=Tile(300, 300), joint=1.0),)), US, LABOUR)
    assert any("outside the usual limits" in said for said in answer.assumptions)
    assert any("Making good what comes of it" in said for said in answer.exclusions)
    assert any("Joint 1 mm" in said for said in answer.to_accept)
