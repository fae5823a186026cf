"""POST /v1/takeoffs: rooms in; measures, layout, materials and labour out; nothing is stored."""

from __future__ import annotations

from typing import Any

import marshmallow as ma
from flask import Response

from service.api import examples
from service.api.framework.context import session
from service.api.framework.replies import chosen, drawing, reply
from service.api.framework.routes import Routes
from service.api.framework.schema import RequestSchema
from service.api.operations.jobs import job_of, plan_of, today
from service.api.schemas.answer import TakeoffSchema, takeoff_answer
from service.api.schemas.room import MAX_ROOMS, JobSchema
from service.quoting.takeoffs import take_off_for
from service.render.layers import LAYERS

takeoffs = Routes(
    "takeoffs", __name__, url_prefix="/v1/takeoffs", description="Measures, layout and quantities"
)
SVG = "image/svg+xml"


class PlanQuery(RequestSchema):
    room = ma.fields.Integer(
        load_default=0,
        validate=ma.validate.Range(0, MAX_ROOMS - 1),
        metadata={"description": "number of the room to draw, from 0"},
    )
    layers = ma.fields.String(
        validate=ma.validate.Length(max=400),
        metadata={"description": f"comma-separated, of {', '.join(LAYERS)}; all where left out"},
    )


class TakeoffQuery(PlanQuery):
    cut_list = ma.fields.Boolean(
        load_default=False, metadata={"description": "whether each room tells its pieces to cut"}
    )


@takeoffs.operation(
    "POST",
    "",
    "Take off rooms",
    scope="quotes",
    body=JobSchema,
    query=TakeoffQuery,
    answer=TakeoffSchema,
    example=examples.JOB,
    problems=(406, 409),
    also={SVG: "the plan of one room"},
)
def take_off_rooms(body: dict[str, Any], query: dict[str, Any]) -> Response:
    """Measures, layout, joints, profiles and findings of each room; materials, labour, cautions of all.

    Stores nothing. With Accept: image/svg+xml the plan of one room.
    """
    wanted = chosen("application/json", SVG)
    takeoff = take_off_for(session(), job_of(body), today(), body.get("crew"))
    units = body.get("display_units", "metric")
    if wanted == SVG:
        return drawing(plan_of(takeoff, query, units))
    return reply(takeoff_answer(takeoff, units, query["cut_list"]))
