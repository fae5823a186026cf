"""What take-offs and quotes share: the job in a body, and the plan of one of its rooms."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any, cast
from zoneinfo import ZoneInfo

from service.api.framework.context import now, session
from service.api.framework.problems import Fault, invalid
from service.api.schemas.job import job_from
from service.quoting import choices
from service.quoting.office import organisation
from service.quoting.tiles import tile_of
from service.render.layers import LAYERS, Layer
from service.render.lengths import LengthUnits
from service.render.plan import plan_svg
from service.takeoff.answer import Takeoff
from service.takeoff.room import Job, Standards


def job_of(body: Mapping[str, Any]) -> Job:
    """The job in a loaded body, under the organisation's standards unless it names others.

    InputError points to what cannot be, products chosen that the organisation does not have among it.
    """
    standards = cast(Standards, organisation(session()).standards)
    job = job_from(body, tile_of(session()), standards)
    choices.check(session(), job)
    return job


def today() -> date:
    """The day that it is where the organisation works."""
    return now().astimezone(ZoneInfo(organisation(session()).time_zone)).date()


def plan_of(takeoff: Takeoff, query: Mapping[str, Any], display_units: str = "metric") -> str:
    """The plan of the room and with the layers asked for; 422 for a room or layer that is not there."""
    room = query["room"]
    if room >= len(takeoff.rooms):
        raise invalid(Fault(f"The job has rooms 0 to {len(takeoff.rooms) - 1}.", parameter="room"))
    units: LengthUnits = "us" if display_units == "us" else "mm"
    return plan_svg(takeoff.job.rooms[room], takeoff.rooms[room], units, _layers(query.get("layers")))


def _layers(said: str | None) -> frozenset[Layer]:
    """The layers named, all where none is."""
    named = [name.strip() for name in (said or "").split(",") if name.strip()]
    if unknown := [name for name in named if name not in LAYERS]:
        raise invalid(Fault(f"No layer is called {unknown[0]}.", parameter="layers"))
    return frozenset(cast(list[Layer], named)) or frozenset(LAYERS)
