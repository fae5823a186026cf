"""The sheet that the crew takes along: what to cut, to mix and to do, in the order of work."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from service.pricing.model import Line
from service.quoting.crew_sheet.mixing import Mixing, mixing
from service.quoting.crew_sheet.stages import Stage, stages
from service.quoting.purchase import bought_by
from service.quoting.quotes import StoredQuote
from service.quoting.recompute import values_of
from service.takeoff.answer import RoomTakeoff, Schedule, Takeoff
from service.takeoff.cut_list import CutTile, cut_list_of
from service.takeoff.room import Room

__all__ = ["CrewSheet", "RoomSheet", "crew_sheet", "sheet_of"]


@dataclass(frozen=True, slots=True)
class RoomSheet:
    """One room: where the first tile lies, what is cut for it, and what must be seen to."""

    room: Room
    takeoff: RoomTakeoff
    cut_list: tuple[CutTile, ...]

    @property
    def conditions(self) -> tuple[str, ...]:
        return tuple(found.message for found in self.takeoff.findings if found.verdict == "condition")


@dataclass(frozen=True, slots=True)
class CrewSheet:
    rooms: tuple[RoomSheet, ...]
    mixing: tuple[Mixing, ...]
    stages: tuple[Stage, ...]
    tools: tuple[str, ...]
    cautions: tuple[str, ...]
    schedule: Schedule


def sheet_of(quote: StoredQuote) -> CrewSheet:
    """The sheet of a stored quote, with the organisation's own values as they were kept with it.

    Conflict where the floor is refused.
    """
    return crew_sheet(quote.takeoff, bought_by(quote).lines, quote.basis)


def crew_sheet(takeoff: Takeoff, lines: tuple[Line, ...], basis: Mapping[str, Any]) -> CrewSheet:
    """The sheet of a take-off, by the edition of trade values that it was made with."""
    values = values_of(takeoff, basis)
    return CrewSheet(
        rooms=tuple(_room(room, found) for room, found in zip(takeoff.job.rooms, takeoff.rooms, strict=True)),
        mixing=mixing(takeoff.materials, lines, values),
        stages=stages(takeoff, values),
        tools=takeoff.tools,
        cautions=takeoff.cautions,
        schedule=takeoff.schedule,
    )


def _room(room: Room, found: RoomTakeoff) -> RoomSheet:
    return RoomSheet(room, found, cut_list_of(room, found))
