"""Which problem each refusal becomes; what is not foreseen becomes a 500 that tells only its request id."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import structlog
from flask import Flask, Response
from sqlalchemy.exc import InterfaceError, OperationalError
from sqlalchemy.exc import TimeoutError as NoConnectionFree
from werkzeug.exceptions import HTTPException, RequestEntityTooLarge

from service.api.framework.body import request_document, too_large
from service.api.framework.changed_faults import problem_of
from service.api.framework.problems import Fault, Problem, from_http, invalid, pointer
from service.api.schemas.job import shape_pointer
from service.pricing.model import Gap
from service.quoting.catalogue import Stale, UnknownReference
from service.quoting.errors import Conflict, NotFound, Unpriceable, Unready
from service.quoting.imports.errors import FileRefused
from service.quoting.office import OutOfRange
from service.quoting.quotes.issue import NotAccepted
from service.quoting.variants import BadOption, BadVariant
from service.takeoff.errors import InputError

log = structlog.get_logger()


def register(app: Flask) -> None:
    app.register_error_handler(Problem, Problem.response)
    app.register_error_handler(HTTPException, from_http)
    app.register_error_handler(RequestEntityTooLarge, lambda _: too_large().response())
    app.register_error_handler(InputError, _input_error)
    app.register_error_handler(NotFound, lambda error: Problem(404, f"There is {error}.").response())
    app.register_error_handler(Conflict, _state_conflict)
    app.register_error_handler(Unready, lambda error: _conflict(error, "not-set-up"))
    app.register_error_handler(OutOfRange, lambda error: _at("/value", str(error)))
    app.register_error_handler(NotAccepted, _not_accepted)
    app.register_error_handler(FileRefused, _file_refused)
    app.register_error_handler(Stale, _stale)
    app.register_error_handler(UnknownReference, lambda error: _at(error.field, str(error)))
    app.register_error_handler(Unpriceable, _unpriceable)
    app.register_error_handler(BadVariant, lambda error: _alternative("variants", error))
    app.register_error_handler(BadOption, lambda error: _alternative("options", error))
    app.register_error_handler(OperationalError, _database)
    app.register_error_handler(InterfaceError, _database)
    app.register_error_handler(NoConnectionFree, _no_connection_free)
    app.register_error_handler(Exception, _unexpected)


def _input_error(error: InputError) -> Response:
    if error.pointer.startswith("/labour_rates/"):
        return Problem(409, f"{_sentence(error.detail)} See /v1/labour-rates.", "not-set-up").response()
    return _at(shape_pointer(request_document(), error.pointer), error.detail)


def _alternative(member: str, error: BadVariant) -> Response:
    return problem_of(request_document(), member, error).response()


def _at(where: str, detail: str) -> Response:
    return invalid(Fault(detail, pointer=where)).response()


def _conflict(error: Exception, kind: str) -> Response:
    return Problem(409, _sentence(str(error)), kind).response()


def _state_conflict(error: Conflict) -> Response:
    faults = () if error.field is None else (Fault(str(error), pointer=error.field),)
    return Problem(409, _sentence(str(error)), "state-conflict", faults).response()


def _file_refused(error: FileRefused) -> Response:
    fault = Fault(str(error), parameter=error.option)
    return Problem(422, str(error), "unreadable-file", (fault,) if error.option else ()).response()


def _stale(_: Stale) -> Response:
    detail = "The resource changed since it was read; read it again and repeat the change."
    return Problem(412, detail, "stale-version").response()


def _not_accepted(error: NotAccepted) -> Response:
    faults = tuple(Fault(wanted, pointer="/accept_assumptions") for wanted in error.wanted)
    return Problem(409, _sentence(str(error)), "assumptions-to-accept", faults).response()


def _unpriceable(error: Unpriceable) -> Response:
    faults = tuple(fault for gap in error.gaps for fault in _gap_faults(gap, request_document()))
    roles = ", ".join(dict.fromkeys(gap.role for gap in error.gaps))
    return Problem(422, f"Cannot be bought on the price date: {roles}.", "unpriceable", faults).response()


def _gap_faults(gap: Gap, body: Mapping[str, Any]) -> Iterator[Fault]:
    """A fault at the field to blame, or at each place where the office chose a product for the role, or else
    one for all rooms."""
    detail = f"{gap.role}: {gap.message}"
    places = [gap.field] if gap.field else list(_choices(gap.role, body.get("rooms", ())))
    yield from (Fault(detail, pointer=place) for place in places or ["/rooms"])


def _choices(role: str, rooms: Any) -> Iterator[str]:
    for place, room in enumerate(rooms):
        if role in room.get("choices", {}):
            yield pointer("rooms", place, "choices", role)
        if role == "tile":
            yield pointer("rooms", place, "tile")


def _database(error: Exception) -> Response:
    """Of a commit whose answer was lost nobody knows here whether it was done."""
    log.error("database", exc_info=error)
    detail = (
        "The database does not answer. All of the request was stored or nothing; an operation that takes an "
        "Idempotency-Key can be repeated with the same one."
    )
    return Problem(503, detail, headers={"Retry-After": "5"}).response()


def _no_connection_free(error: Exception) -> Response:
    log.error("no-connection-free", exc_info=error)
    detail = "All database connections are at work; nothing was stored."
    return Problem(503, detail, headers={"Retry-After": "2"}).response()


def _unexpected(error: Exception) -> Response:
    log.error("unexpected", exc_info=error)
    return Problem(
        500, "The service failed; nothing was stored. Quote the request id.", "unexpected"
    ).response()


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + ("" if text.endswith(".") else ".")
