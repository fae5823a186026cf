"""Quotes that begin with a ballpark: its answers make the room, and are told beside the quote."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import marshmallow as ma
from flask import g

from service.api.framework.context import caller, parts
from service.api.framework.problems import Fault, body_faults, invalid
from service.api.schemas.ballpark_rooms import room_of, site_of
from service.api.schemas.quote import QuoteRequestSchema
from service.quoting.ballparks import tokens

TOKEN = "/ballpark_token"  # noqa: S105 - a pointer


def with_rooms(body: dict[str, Any], document: Mapping[str, Any]) -> tuple[dict[str, Any], Mapping[str, Any]]:
    """The loaded body and its document, the rooms made of the token where there are none.

    422 for a token that this organisation did not sign, that has expired or that knows no size.
    """
    if "ballpark_token" not in body:
        return body, document
    told = _told(body["ballpark_token"])
    if "rooms" in body:
        return body, document
    try:
        room, _ = room_of(told["answers"])
    except ValueError as fault:
        raise invalid(Fault(str(fault), pointer=TOKEN)) from None
    g.document = made = {"site": site_of(told["answers"]), **document, "rooms": [room]}
    try:
        return QuoteRequestSchema().load(made), made
    except ma.ValidationError as error:
        raise invalid(*(Fault(f.detail, pointer=TOKEN) for f in body_faults(error.messages))) from None


def ballpark_of(document: Mapping[str, Any]) -> dict[str, Any]:
    """What a quote's document tells of its ballpark, as a member of the answer; nothing for other quotes."""
    try:
        told = tokens.read(
            parts().settings.key_pepper, caller().org_id, document.get("ballpark_token", ""), days=None
        )
        return {"ballpark": {**told, "assumed": room_of(told["answers"])[1]}}
    except ValueError:
        return {}


def _told(token: str) -> dict[str, Any]:
    try:
        return tokens.read(parts().settings.key_pepper, caller().org_id, token)
    except tokens.BadToken as fault:
        raise invalid(Fault(str(fault), pointer=TOKEN)) from None
