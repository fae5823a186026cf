"""What take-offs and quotes share: the job in a body, and the plan of one of its rooms."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any, cast

import marshmallow as ma

from service.api.framework.changed_faults import placed
from service.api.framework.context import now, session
from service.api.framework.problems import Fault, body_faults, invalid
from service.api.schemas.changed import changed_room
from service.api.schemas.job import job_from
from service.api.schemas.room import JobSchema
from service.quoting import choices, office
from service.quoting.tiles import tile_of
from service.render.layers import LAYERS, Layer
from service.render.lengths import LengthUnits
from service.render.plan import plan_svg
from service.takeoff.answer import Takeoff
from service.takeoff.errors import InputError
from service.takeoff.room import Job, Standards

JOB_MEMBERS = tuple(JobSchema().fields)


def job_of(body: Mapping[str, Any]) -> Job:
    """The job in a loaded body, under the organisation's standards unless it names others.

    InputError points to what cannot be, products chosen that the organisation does not have among it.
    """
    standards = cast(Standards, office.organisation(session()).standards)
    job = job_from(body, tile_of(session()), standards)
    return choices.checked(session(), job)


def changed_job(document: Mapping[str, Any], member: str, place: int, alternative: Mapping[str, Any]) -> Job:
    """The job that an alternative of a request (`member`, `place`) makes of the request's rooms.

    What is wrong with it is told at the change that makes it so.
    """
    said = {name: document[name] for name in JOB_MEMBERS if name in document}
    chosen = alternative.get("rooms", range(len(said["rooms"])))
    rooms = [
        changed_room(room, alternative["changes"]) if number in chosen else room
        for number, room in enumerate(said["rooms"])
    ]
    try:
        return job_of(JobSchema().load({**said, "rooms": rooms}))
    except ma.ValidationError as error:
        raise invalid(*placed(document, member, place, body_faults(error.messages))) from error
    except InputError as error:
        faults = [Fault(error.detail, pointer=error.pointer)]
        raise invalid(*placed(document, member, place, faults)) from error


def today() -> date:
    """The day that it is where the organisation works."""
    return office.today(session(), now())


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
