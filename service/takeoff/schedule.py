"""How often the crew comes, how many days it works, and on how many of them one person comes alone.

Rules. All rooms go through the stages of building together. The waits of a stage follow its work and run side
by side in all rooms, so the longest counts. A short wait is sat out; one that is over on the next day ends
the crew's day; a still longer one ends the visit, if work was done before it and is left after it.
Work between two nights takes its hours divided by crew and productive hours, rounded up to whole days, so
every visit has at least one day. Where no more than a few hours are left for the last of these days, as for a
flood test or for sealing, one person comes for them. Setting up and cleaning down lie outside the productive
hours: they are paid for each day and person, in part for the few hours of one, and add no day.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import ceil

from service.takeoff.answer import Schedule, Wait, Work
from service.takeoff.labour import hours_of
from service.takeoff.rates import LabourTable
from service.trade.values import TradeValues

NOISE = 1e-9  # hours that fill a day exactly do not begin another


@dataclass(frozen=True, slots=True)
class Stage:
    """Work that is done together, and what must be waited for after it."""

    name: str
    hours: float
    waits: tuple[Wait, ...] = ()


def plan(work: Sequence[Work], waits: Sequence[Wait], table: LabourTable, values: TradeValues) -> Schedule:
    """Visits, working days and waits for the work of all rooms; `after` of a wait names its stage.

    Work of no stage, such as mobilising, is done on the first visit. Daily set-up follows from the days
    and is no part of `work`.
    """
    stages = _stages(work, waits, table, values)
    visits = visit_hours(stages, values.number("schedule.wait_on_site"), values.number("schedule.overnight"))
    alone = values.number("schedule.alone_up_to")
    days = [days_of(hours, table, alone) for visit in visits for hours in visit]
    return Schedule(
        visits=len(visits),
        working_days=sum(number for number, _ in days),
        crew=table.crew,
        waits=tuple(wait for stage in stages for wait in stage.waits),
        days_alone=sum(last_alone for _, last_alone in days),
    )


def days_of(hours: float, table: LabourTable, alone_up_to: float) -> tuple[int, bool]:
    """Days that the crew takes for these hours between two nights, and whether one person comes on the last.

    One person comes where at most `alone_up_to` hours are left, and no more than fit into a day: 15 h of a
    crew of 2 at 6.5 h are a day of both and 2 h of one.
    """
    a_day = table.crew * table.productive_hours_per_day
    days = ceil(hours / a_day - NOISE)
    left = hours - (days - 1) * a_day
    return days, left <= min(alone_up_to, table.productive_hours_per_day) + NOISE


def setup_days(schedule: Schedule, values: TradeValues) -> float:
    """Days of one person to be set up and cleared for; the few hours of one who comes alone count in part."""
    together = schedule.working_days - schedule.days_alone
    return together * schedule.crew + schedule.days_alone * values.number("schedule.short_setup")


def visit_hours(
    stages: Iterable[Stage], wait_on_site: float, overnight: float
) -> tuple[tuple[float, ...], ...]:
    """The hours of each visit, parted where a wait passes overnight.

    A wait up to `wait_on_site` [h] is sat out; one longer than `overnight` [h] leaves a day without work.
    """
    visits: list[list[float]] = [[]]
    hours = 0.0
    for stage in stages:
        hours += stage.hours
        wait = max((wait.hours for wait in stage.waits), default=0.0)
        if hours > 0 and wait > wait_on_site:
            visits[-1].append(hours)
            hours = 0.0
        if visits[-1] and wait > overnight:
            visits.append([])
    visits[-1] += [hours] if hours > 0 else []
    return tuple(tuple(visit) for visit in visits if visit)


def longest_waits(waits: Iterable[Wait]) -> tuple[Wait, ...]:
    """Of waits after the same thing the longest, in the order of their first mention."""
    longest: dict[str, Wait] = {}
    for wait in waits:
        if wait.after not in longest or wait.hours > longest[wait.after].hours:
            longest[wait.after] = wait
    return tuple(longest.values())


def in_building_order(work: Iterable[Work], values: TradeValues) -> tuple[Work, ...]:
    """The work by stage of building; work of no stage first."""
    number = {name: count for count, name in enumerate(_stage_names(values))}
    stage_of = _stage_of_activity(values)
    return tuple(sorted(work, key=lambda each: number.get(stage_of.get(each.activity, ""), -1)))


def _stages(
    work: Sequence[Work], waits: Sequence[Wait], table: LabourTable, values: TradeValues
) -> tuple[Stage, ...]:
    names, stage_of = _stage_names(values), _stage_of_activity(values)
    unknown = {wait.after for wait in waits} - set(names)
    if unknown:
        raise ValueError(f"waits after {', '.join(sorted(unknown))}, which is no stage")
    work_in: dict[str, list[Work]] = {name: [] for name in names}
    for each in work:
        work_in[stage_of.get(each.activity, names[0])].append(each)
    longest = longest_waits(waits)
    return tuple(
        Stage(name, hours_of(work_in[name], table), tuple(w for w in longest if w.after == name))
        for name in names
    )


def _stage_names(values: TradeValues) -> list[str]:
    return [str(row["stage"]) for row in values.table("schedule.stages")]


def _stage_of_activity(values: TradeValues) -> Mapping[str, str]:
    rows = values.table("schedule.stages")
    return {activity: str(row["stage"]) for row in rows for activity in row["activities"]}
