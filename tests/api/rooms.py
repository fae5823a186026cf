"""Rooms as sent and as understood, for tests without a server."""

from __future__ import annotations

from typing import Any

import marshmallow as ma

from service.api.framework.problems import body_faults
from service.api.schemas.job import job_from
from service.api.schemas.room import JobSchema
from service.takeoff.errors import InputError
from service.takeoff.room import Job, Outline, Room, Tile

TILE = {"length": 300, "width": 300}
SQUARE = [[0, 0], [4000, 0], [4000, 3000], [0, 3000]]
PRODUCT = "018f6f2e-3c4d-7a1b-9c2d-3e4f5a6b7c8d"


def job(*rooms: dict[str, Any], **more: Any) -> Job:
    data = JobSchema().load({"rooms": list(rooms), **more})
    return job_from(data, lambda product: Tile(300, 300, product=product) if product == PRODUCT else None)


def room(**members: Any) -> Room:
    shape = {} if members.keys() & {"rectangle", "parts", "walls_run", "area_m2"} else {"outline": SQUARE}
    return job({"tile": TILE, **shape, **members}).rooms[0]


def outline(made: Room) -> Outline:
    assert isinstance(made.shape, Outline)
    return made.shape


def refused(*rooms: dict[str, Any], **more: Any) -> list[str]:
    """The pointers of what is wrong."""
    try:
        job(*rooms, **more)
    except ma.ValidationError as error:
        return [str(fault.pointer) for fault in body_faults(error.messages)]
    except InputError as error:
        return [error.pointer]
    raise AssertionError("nothing was refused")
