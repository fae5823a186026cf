"""Problem responses (RFC 9457): every answer that is not a success is application/problem+json.

Faults of a body carry a JSON pointer (RFC 6901), faults of the query the parameter's name.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from http import HTTPStatus
from typing import Any

from flask import Response, g, request
from werkzeug.exceptions import HTTPException

MEDIA_TYPE = "application/problem+json"

KINDS: Mapping[str, str] = {
    "malformed-body": "The body is no JSON that this service reads.",
    "invalid-input": "Fields of the request are missing, unknown or out of range.",
    "unreadable-file": "The file is no price table that this service reads.",
    "unpriceable": "Something that the floor needs is not on sale on the price date.",
    "not-set-up": "The organisation lacks a labour table, terms or the like.",
    "unauthenticated": "The API key is missing, unknown, expired or revoked.",
    "scope-missing": "The API key may not call this operation.",
    "origin-refused": "A publishable key came from a page that it is not meant for.",
    "too-many": "The key or the address has used up its quota of the minute; see Retry-After.",
    "too-busy": "More is asked than can be done; see Retry-After.",
    "stale-version": "The resource changed since it was read.",
    "precondition-required": "Changing a resource wants If-Match with its ETag.",
    "state-conflict": "The resource's state forbids what was asked.",
    "assumptions-to-accept": "Assumptions must be accepted by name before the quote is issued; see errors.",
    "idempotency-in-flight": "The first request with this Idempotency-Key is still running.",
    "idempotency-reused": "This Idempotency-Key came before with another request.",
    "unexpected": "A fault of the service; nothing was stored.",
}
"""Names of the problem types of our own, with what each means; served under /problems."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One wrong thing in a request: where, and what is wrong."""

    detail: str
    pointer: str | None = None
    parameter: str | None = None

    def as_json(self) -> dict[str, str]:
        where = {"pointer": self.pointer, "parameter": self.parameter}
        return {key: value for key, value in where.items() if value is not None} | {"detail": self.detail}


@dataclass(eq=False)
class Problem(Exception):
    """Raised anywhere below a view to end the request with this problem."""

    status: int
    detail: str
    kind: str | None = None
    errors: tuple[Fault, ...] = ()
    headers: Mapping[str, str] = field(default_factory=dict)

    def response(self) -> Response:
        document = self.document(request.path, g.get("request_id", ""))
        body = json.dumps(document, ensure_ascii=False)
        return Response(body, self.status, dict(self.headers), content_type=MEDIA_TYPE)

    def document(self, path: str, request_id: str) -> dict[str, Any]:
        """The members of RFC 9457 and the id of the request."""
        document: dict[str, Any] = {
            "type": f"/problems/{self.kind}" if self.kind else "about:blank",
            "title": self._title(),
            "status": self.status,
            "detail": self.detail,
            "instance": path,
            "request_id": request_id,
        }
        if self.errors:
            document["errors"] = [fault.as_json() for fault in self.errors]
        return document

    def _title(self) -> str:
        return self.kind.replace("-", " ").capitalize() if self.kind else HTTPStatus(self.status).phrase


def invalid(*faults: Fault) -> Problem:
    """422 with the faults of a well-formed request."""
    return Problem(
        422, faults[0].detail if len(faults) == 1 else _COUNTED.format(len(faults)), "invalid-input", faults
    )


_COUNTED = "{} fields cannot be taken; see errors."


def pointer(*steps: str | int) -> str:
    """The JSON pointer through these member names and indexes (RFC 6901, 3: ~ is ~0, / is ~1)."""
    return "".join("/" + str(step).replace("~", "~0").replace("/", "~1") for step in steps)


def body_faults(messages: Any, path: tuple[str | int, ...] = ()) -> Iterator[Fault]:
    """The faults in marshmallow's nested messages, each with its pointer."""
    if isinstance(messages, Mapping):
        for key, inner in messages.items():
            yield from body_faults(inner, path if key == "_schema" else (*path, key))
    elif isinstance(messages, str):
        yield Fault(messages, pointer=pointer(*path))
    else:
        for message in messages:
            yield from body_faults(message, path)


def query_faults(messages: Mapping[str, Any]) -> Iterator[Fault]:
    """The faults in marshmallow's messages about query parameters."""
    for name, inner in messages.items():
        for fault in body_faults(inner):
            yield Fault(fault.detail, parameter=str(name))


def from_http(error: HTTPException) -> Response:
    """Flask's own refusals (404, 405, 413 ...) as problems, with their headers; redirects pass."""
    answer = error.get_response()
    if error.code is None or error.code < 400:
        return Response(answer.get_data(), answer.status_code, answer.headers)
    kept = {name: value for name, value in answer.headers if name in {"Allow", "Retry-After"}}
    return Problem(error.code, error.description or error.name, headers=kept).response()
