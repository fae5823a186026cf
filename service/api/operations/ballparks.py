"""POST /v1/ballparks: a range from the little that a home owner knows; nothing is stored."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta
from typing import Any

import marshmallow as ma
from flask import Response, request
from webargs.flaskparser import is_json_request

from service.api import examples
from service.api.framework.body import raw_body, read_json
from service.api.framework.context import now, parts
from service.api.framework.problems import Problem, body_faults, invalid
from service.api.framework.replies import reply
from service.api.framework.routes import Routes
from service.api.public import door
from service.api.schemas.ballparks import BallparkRequestSchema, BallparkSchema
from service.ballpark.answers import Answers
from service.quoting.ballparks import tokens
from service.quoting.ballparks.answer import CAUTIONS, INCLUDES, Ballpark, ballpark
from service.telemetry import metrics

routes = Routes("ballparks", __name__, url_prefix="/v1/ballparks", description="Price ranges for web pages")
door.guard(routes)

PRICED = tuple(Answers.__dataclass_fields__)
NOT_YET = "The office's prices have not been learnt yet; ask again in some minutes."
_schema = BallparkRequestSchema()


@routes.public_operation(
    "POST",
    "",
    "Say roughly what a floor costs",
    body=BallparkRequestSchema,
    answer=BallparkSchema,
    example=examples.BALLPARK,
    problems=(429, 503),
)
def make_ballpark() -> Response:
    """Low, likely and high with tax, from rooms that were drawn at random and priced like full quotes.

    The only operation that a publishable key opens, from pages of its origins. Quotas hold for each key and
    each address. Nothing is stored; the office makes a quote of the token.
    """
    said = _said()
    answers = {name: said[name] for name in (*PRICED, "region", "postcode") if name in said}
    try:
        found = ballpark(
            Answers(**{name: answers.get(name) for name in PRICED}),
            said.get("region"),
            door.desk().models(door.caller().org_id),
        )
    except KeyError:
        metrics.ballpark("not set up")
        raise Problem(503, NOT_YET, "not-set-up", headers={"Retry-After": "60"}) from None
    metrics.ballpark("trapped" if said["website"] else "answered")
    return reply({**_told(found), **_token(found, answers, trapped=bool(said["website"]))})


def _said() -> dict[str, Any]:
    if not is_json_request(request):
        raise Problem(415, "The body must be application/json.", headers={"Accept-Post": "application/json"})
    try:
        said: dict[str, Any] = _schema.load(read_json(raw_body(request)))
    except ma.ValidationError as error:
        raise invalid(*body_faults(error.messages)) from None
    return said


def _told(found: Ballpark) -> dict[str, Any]:
    """In the names of BallparkSchema, which a test holds it to: its dump would take longer than the rest."""
    return {
        "low": f"{found.low}.00",
        "likely": f"{found.likely}.00",
        "high": f"{found.high}.00",
        "currency": found.currency,
        "tax_included": True,
        "width_percent": found.width_percent,
        "price_date": found.price_date.isoformat(),
        "includes": [{"code": code, "text": INCLUDES[code]} for code in found.includes],
        "ask_next": found.ask_next,
        "narrows_to_percent": found.narrows_to_percent,
        "cautions": [{"code": code, "text": CAUTIONS[code]} for code in found.cautions],
    }


def _token(found: Ballpark, answers: Mapping[str, Any], trapped: bool) -> dict[str, str]:
    """A token that the office can redeem; what fills in the hidden field gets one that nobody can."""
    told = {
        "answers": answers,
        "low": f"{found.low}.00",
        "likely": f"{found.likely}.00",
        "high": f"{found.high}.00",
        "currency": found.currency,
        "price_date": found.price_date.isoformat(),
    }
    whose = tokens.TRAP if trapped else door.caller().org_id
    expires = (now() + timedelta(days=tokens.DAYS)).replace(microsecond=0)
    return {
        "token": tokens.sign(parts().settings.key_pepper, whose, told),
        "token_expires_at": expires.isoformat(),
    }
