"""POST /v1/variants: one job in up to twenty variants, side by side; nothing is stored."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

import marshmallow as ma
from flask import Response

from service.api import examples
from service.api.framework.body import request_json
from service.api.framework.context import now, session
from service.api.framework.problems import Fault, Problem, body_faults, invalid, pointer
from service.api.framework.replies import reply
from service.api.framework.routes import Routes
from service.api.operations.jobs import job_of
from service.api.schemas.changed import changed_room
from service.api.schemas.room import JobSchema
from service.api.schemas.variants import VariantsRequestSchema, VariantsSchema, variants_answer
from service.pricing.model import Uplift
from service.quoting.basis import QuoteRequest
from service.quoting.catalogue import UnknownReference
from service.quoting.errors import Unpriceable
from service.quoting.variants import Asked, BadVariant, TermsChange, compare
from service.takeoff.errors import InputError
from service.takeoff.room import Job

routes = Routes("variants", __name__, url_prefix="/v1/variants", description="Variants side by side")
JOB_MEMBERS = ("rooms", "standards", "site", "display_units")


@routes.operation(
    "POST",
    "",
    "Compare variants",
    scope="quotes",
    body=VariantsRequestSchema,
    answer=VariantsSchema,
    example=examples.VARIANTS,
    problems=(409,),
)
def compare_variants(body: dict[str, Any]) -> Response:
    """Totals of each variant and its differences to the first, by cause and by group of lines.

    Stores nothing. A variant whose floor is refused shows its findings beside the others; one that is bad
    input is a 422 with its pointer.
    """
    asked = [_asked(place, variant) for place, variant in enumerate(body["variants"])]
    more = {name: body[name] for name in ("terms_id", "price_date") if name in body}
    request = QuoteRequest(job=asked[0].job, body={}, **more)
    try:
        return reply(variants_answer(compare(session(), request, asked, now())))
    except BadVariant as bad:
        raise _problem(bad) from bad


def _asked(place: int, variant: Mapping[str, Any]) -> Asked:
    return Asked(variant["name"], _job(place, variant), variant.get("terms_id"), _terms(variant))


def _terms(variant: Mapping[str, Any]) -> TermsChange:
    said = dict(variant.get("terms", {}))
    uplifts = {group: Uplift(**uplift) for group, uplift in said.pop("uplifts", {}).items()}
    return TermsChange(**said, uplifts=uplifts)


def _job(place: int, variant: Mapping[str, Any]) -> Job:
    """The job that the variant makes of the request's rooms."""
    said = {name: value for name, value in request_json().items() if name in JOB_MEMBERS}
    chosen = variant.get("rooms", range(len(said["rooms"])))
    rooms = [
        changed_room(room, variant["changes"]) if number in chosen else room
        for number, room in enumerate(said["rooms"])
    ]
    try:
        return job_of(JobSchema().load({**said, "rooms": rooms}))
    except ma.ValidationError as error:
        raise invalid(*_placed(place, body_faults(error.messages))) from error
    except InputError as error:
        raise invalid(*_placed(place, [Fault(error.detail, pointer=error.pointer)])) from error


def _placed(place: int, faults: Iterable[Fault]) -> Iterator[Fault]:
    """Each fault at the change that made it, else where the rooms have it."""
    changes = request_json()["variants"][place].get("changes", {})
    for where, fault in ((fault.pointer or "", fault) for fault in faults):
        _, _, _, *member = where.split("/", 3) if where.startswith("/rooms/") else ("", "", "")
        name = member[0].split("/")[0] if member else ""
        if name in changes:
            yield Fault(fault.detail, pointer=f"{pointer('variants', place, 'changes')}/{member[0]}")
        elif not name and changes:
            yield Fault(fault.detail, pointer=pointer("variants", place, "changes"))
        else:
            yield fault


def _problem(bad: BadVariant) -> Problem:
    where = pointer("variants", bad.number)
    if isinstance(bad.fault, Unpriceable):
        faults = tuple(Fault(f"{gap.role}: {gap.message}", pointer=where) for gap in bad.fault.gaps)
        name = request_json()["variants"][bad.number]["name"]
        return Problem(422, f"{name} cannot be bought on the price date.", "unpriceable", faults)
    if isinstance(bad.fault, UnknownReference):
        own = "terms_id" in request_json()["variants"][bad.number] and bad.fault.field == "/terms_id"
        return invalid(Fault(str(bad.fault), pointer=(where if own else "") + bad.fault.field))
    if bad.fault.pointer.startswith("/labour_rates/"):
        return Problem(409, f"{bad.fault.detail}. See /v1/labour-rates.", "not-set-up")
    return invalid(*_placed(bad.number, [Fault(bad.fault.detail, pointer=bad.fault.pointer)]))
