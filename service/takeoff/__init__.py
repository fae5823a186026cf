"""From the rooms of a job to its bill of quantities: materials, hours, visits, findings and cautions.

Pure: the same job, trade values and labour table give the same answer.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import fsum

from service.takeoff import assumptions, budget, cautions, crew, existing, schedule, setting, site, tools
from service.takeoff.answer import LabourLine, Material, Step, Takeoff
from service.takeoff.continued import in_order
from service.takeoff.errors import InputError
from service.takeoff.flow import RoomFlow, room_flow
from service.takeoff.labour import labour_lines, sums, up_to_minimum
from service.takeoff.merge import merged
from service.takeoff.parts import joined
from service.takeoff.rates import LabourTable
from service.takeoff.room import Job, Room
from service.takeoff.shared import Shared
from service.takeoff.shared_doorways import marked
from service.takeoff.shared_offcuts import Tiled, savings
from service.takeoff.work_facts import WorkFacts
from service.trade.values import TradeValues

__all__ = ["take_off"]


def take_off(job: Job, values: TradeValues, labour: LabourTable, shared: Shared | None = None) -> Takeoff:
    """Take off a job with the trade's values and the organisation's rates.

    `shared` holds what earlier take-offs with the same values had in common with this one.

    Raises InputError (RFC 6901 pointer from the job: "/rooms/0/outline", or "/labour_rates/grout" where the
    table lacks a rate) for what no floor can have. A floor that must not be built so is no error but a
    finding that refuses it.
    """
    job, known = _affordable(job), shared or Shared()
    rooms = marked([existing.on_kept(room) for room in job.rooms], values)
    flows = in_order(
        rooms, lambda number, room: _flow(number, room, values, known), lambda flow: flow.answer.layout
    )
    tiled_m2 = fsum(flow.answer.layout.tiled_area_m2 for flow in flows)
    whole = joined(*(flow.step for flow in flows), site.take(job.site, tiled_m2, values))
    work = schedule.in_building_order(whole.work, values)
    visits = schedule.plan(work, whole.waits, labour, values)
    daily = site.daily_setup(job.site, schedule.setup_days(visits, values), values)
    lines = up_to_minimum(labour_lines((*work, daily), labour), labour)
    told = [(flow.answer.name, flow.answer.findings) for flow in flows]
    facts = [WorkFacts(room, flow.step, values) for room, flow in zip(rooms, flows, strict=True)]
    return Takeoff(
        job=job,
        rooms=tuple(flow.answer for flow in flows),
        materials=_materials((*whole.materials, *_shared(flows, job.rooms)), values),
        labour=lines,
        labour_hours=sums(lines),
        schedule=visits,
        cautions=_cautions(job, whole, lines, values),
        trade_edition=values.edition,
        labour_table=labour.id,
        assumptions=assumptions.take("assumption", told, values),
        exclusions=assumptions.take("exclusion", told, values),
        instructions=crew.take(facts, values),
        tools=tools.take(facts, values),
    )


def _affordable(job: Job) -> Job:
    """The job with the search for origins that there is time for, before any of it is done."""
    work = budget.Work()
    work.add(job)
    return work.searched(job)


def _flow(number: int, room: Room, values: TradeValues, shared: Shared) -> RoomFlow:
    try:
        return room_flow(room, values, shared)
    except InputError as fault:
        raise fault.under(f"/rooms/{number}") from fault


def _shared(flows: Sequence[RoomFlow], rooms: Sequence[Room]) -> Iterator[Material]:
    """Tiles that are saved where offcuts of one room serve another."""
    return savings(
        [
            Tiled(room, flow.answer.layout, material)
            for room, flow in zip(rooms, flows, strict=True)
            for material in flow.step.materials
            if material.role == "tile"
        ]
    )


def _materials(materials: Sequence[Material], values: TradeValues) -> tuple[Material, ...]:
    return tuple(
        setting.with_attic_stock(material, values) if material.role == "tile" else material
        for material in merged(materials)
    )


def _cautions(job: Job, whole: Step, lines: Sequence[LabourLine], values: TradeValues) -> tuple[str, ...]:
    """Those of the job and of its rooms, each said once."""
    activities = frozenset(line.activity for line in lines)
    return tuple(dict.fromkeys((*cautions.take(job, activities, values), *whole.cautions)))
