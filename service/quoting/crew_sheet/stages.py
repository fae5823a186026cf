"""The order of work: at each stage of building its work, its instructions, and what must be waited for."""

from __future__ import annotations

from dataclasses import dataclass

from service.takeoff.answer import Instruction, LabourLine, Takeoff, Wait
from service.trade.values import TradeValues

ON_SITE = "site"
"""Work of no stage: coming, carrying, protecting, setting up."""


@dataclass(frozen=True, slots=True)
class Stage:
    name: str
    work: tuple[LabourLine, ...]
    instructions: tuple[Instruction, ...]
    waits: tuple[Wait, ...]


def stages(takeoff: Takeoff, values: TradeValues) -> tuple[Stage, ...]:
    """The stages in which something is done, told or waited for; every hour of the take-off is in one."""
    table = values.table("schedule.stages")
    stage_of = {activity: str(row["stage"]) for row in table for activity in row["activities"]}
    names = [ON_SITE, *(str(row["stage"]) for row in table)]
    found = (_stage(name, stage_of, takeoff) for name in names)
    return tuple(stage for stage in found if stage.work or stage.instructions or stage.waits)


def _stage(name: str, stage_of: dict[str, str], takeoff: Takeoff) -> Stage:
    return Stage(
        name,
        tuple(line for line in takeoff.labour if stage_of.get(line.activity, ON_SITE) == name),
        tuple(told for told in takeoff.instructions if told.step == name),
        tuple(wait for wait in takeoff.schedule.waits if wait.after == name),
    )
