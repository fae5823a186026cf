"""Reading a JSON body within limits, before any schema sees it.

Refused here: other media types (415), what is no JSON, doubled member names, deep nesting (400), and,
with their place, numbers that are not finite or absurdly large and strings that no database can hold (422).
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping
from typing import Any, Never

import marshmallow as ma
from flask import Request, g, request
from webargs.flaskparser import FlaskParser, is_json_request
from werkzeug.exceptions import RequestEntityTooLarge

from service.api.framework.problems import Fault, Problem, body_faults, invalid, pointer, query_faults

MAX_DEPTH = 16
MAX_NUMBER = 1e15
MAX_STRING = 10_000
UNREAD_MOST = 32_000_000
"""Bytes of a refused body that are still read, for clients that send all of it before they read."""


class BodyParser(FlaskParser):
    """webargs' parser with our JSON reading and our problems; unknown query parameters are refused."""

    DEFAULT_UNKNOWN_BY_LOCATION = {  # noqa: RUF012 - the shape that webargs wants
        **FlaskParser.DEFAULT_UNKNOWN_BY_LOCATION,
        "json": None,
        "query": ma.RAISE,
    }

    def load_json(self, req: Request, schema: ma.Schema) -> Any:
        if getattr(schema, "may_be_left_out", False) and not raw_body(req):
            return {}
        if not is_json_request(req):
            raise Problem(
                415, "The body must be application/json.", headers={"Accept-Post": "application/json"}
            )
        return read_json(raw_body(req))

    def load_querystring(self, req: Request, schema: ma.Schema) -> Any:
        """The parameters; one that is given twice and is no list is refused, since one would go unheard."""
        asked = super().load_querystring(req, schema)
        twice = [name for name, said in req.args.lists() if len(said) > 1 and name not in asked.multiple_keys]
        if twice:
            raise invalid(*(Fault("Give this once.", parameter=name) for name in twice))
        return asked

    def handle_error(self, error: ma.ValidationError, req: Request, schema: ma.Schema, **_: Any) -> Never:
        messages = error.messages if isinstance(error.messages, dict) else {}
        if "json" in messages:
            raise invalid(*body_faults(messages["json"]))
        raise invalid(*query_faults(messages.get("query", messages)))


def request_json() -> Any:
    """The current request's body, as it came."""
    return read_json(raw_body(request))


def request_document() -> Any:
    """What the request comes to: its body, or that which its patch made."""
    return g.get("document") or request_json()


def raw_body(req: Request) -> bytes:
    """The body whole: of a body in chunks more than the limit would be cut off and nothing said."""
    data = req.get_data(cache=True)
    cut_off = req.content_length is None and len(data) == req.max_content_length
    if cut_off and req.environ["wsgi.input"].read(1):
        raise RequestEntityTooLarge
    return data


def read_json(raw: bytes) -> Any:
    """The JSON value in `raw` (RFC 8259, UTF-8), or a Problem."""
    try:
        value = json.loads(raw.decode("utf-8"), object_pairs_hook=_object)
    except RecursionError:
        raise malformed("The body is nested too deeply.") from None
    except ValueError as error:
        raise malformed(f"The body is no JSON: {error}.") from None
    faults = list(_unfit(value))
    if faults:
        raise invalid(*faults[:50])
    return value


def too_large() -> Problem:
    """The refusal of the current request's body, the rest of which is read and thrown away."""
    length = request.content_length
    left = UNREAD_MOST if length is None else length if length <= UNREAD_MOST else 0
    stream = request.environ["wsgi.input"]
    while left > 0 and (read := len(stream.read(min(left, 65_536)))):
        left -= read
    return Problem(413, f"The body is over the limit of {request.max_content_length} bytes.")


def malformed(detail: str) -> Problem:
    return Problem(400, detail, "malformed-body")


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    members = dict(pairs)
    if len(members) < len(pairs):
        raise ValueError("a member name comes twice in one object")
    return members


def _unfit(value: Any, path: tuple[str | int, ...] = ()) -> Iterator[Fault]:
    if len(path) > MAX_DEPTH:
        raise malformed(f"The body is nested deeper than {MAX_DEPTH} levels.")
    if isinstance(value, str):
        yield from _unfit_text(value, path)
    elif isinstance(value, int | float):
        yield from _unfit_number(value, path)
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            yield from _unfit(inner, (*path, index))
    elif isinstance(value, Mapping):
        for name, inner in value.items():
            yield from _unfit_text(name, path)
            yield from _unfit(inner, (*path, name))


def _unfit_text(text: str, path: tuple[str | int, ...]) -> Iterator[Fault]:
    if len(text) > MAX_STRING:
        yield Fault(f"Longer than {MAX_STRING} characters.", pointer(*path))
    if "\x00" in text or any("\ud800" <= letter <= "\udfff" for letter in text):
        yield Fault("Holds a character that is no text.", pointer(*path))


def _unfit_number(number: float, path: tuple[str | int, ...]) -> Iterator[Fault]:
    if isinstance(number, float) and not math.isfinite(number):
        yield Fault("Not a finite number.", pointer(*path))
    elif abs(number) > MAX_NUMBER:
        yield Fault("Number out of range.", pointer(*path))
