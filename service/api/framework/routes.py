"""One decorator for an operation: its path, scope, schemas, preconditions, documentation and transaction.

In this order: the key and its scope, the query and the body, the precondition, the use case, one commit.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import nullcontext
from functools import wraps
from http import HTTPStatus
from typing import Any, TypeVar

import marshmallow as ma
from flask import Response
from flask.blueprints import BlueprintSetupState
from flask_smorest import Blueprint
from sqlalchemy.orm import Session

from service.api.framework import context, idempotent, patch, uploads
from service.api.framework.auth import Scope, admit
from service.api.framework.body import BodyParser
from service.api.framework.conditional import unless_known
from service.api.framework.prefer import as_preferred
from service.quoting import keys

View = Callable[..., Any]
V = TypeVar("V", bound=View)
Schema = type[ma.Schema] | ma.Schema
Once = Callable[[Session, Callable[[], Response]], Response]

IF_MATCH = {
    "in": "header",
    "name": "If-Match",
    "required": True,
    "schema": {"type": "string", "pattern": r"\S"},
    "description": "the ETag of the resource as read, or *",
}
IF_NONE_MATCH = {
    "in": "header",
    "name": "If-None-Match",
    "schema": {"type": "string"},
    "description": "an ETag already held: 304 where it is still the one",
}
IDEMPOTENCY_KEY = {
    "in": "header",
    "name": "Idempotency-Key",
    "schema": {"type": "string", "pattern": '^("[!#-~]{1,200}"|[!#-~]{1,200})$'},
    "description": "a name for this request: sent again, it gets the first answer and stores nothing anew",
}
PREFER = {
    "in": "header",
    "name": "Prefer",
    "schema": {"type": "string", "examples": ["return=minimal"]},
    "description": "return=minimal (RFC 7240): the answer's headers without its body",
}
HEADERS: Mapping[str, Mapping[str, Any]] = {
    "ETag": {"description": "the resource's version, for If-Match", "schema": {"type": "string"}},
    "Location": {"description": "the new resource", "schema": {"type": "string", "format": "uri-reference"}},
    "Link": {"description": 'rel="next": the next page, where there is one', "schema": {"type": "string"}},
}


class Routes(Blueprint):  # type: ignore[misc] # the package ships no types
    """A blueprint whose operations are declared in one place each."""

    ARGUMENTS_PARSER = BodyParser()

    def operation(
        self,
        method: str,
        rule: str,
        summary: str,
        *,
        scope: Scope | None,
        body: Schema | None = None,
        query: Schema | None = None,
        answer: Schema | None = None,
        status: int = 200,
        example: Mapping[str, Any] | None = None,
        patch_example: Mapping[str, Any] | None = None,
        changes: bool = False,
        stores: bool = False,
        secret: bool = False,
        headers: Sequence[str] = (),
        problems: Sequence[int] = (),
        also: Mapping[str, str] | None = None,
        name: str | None = None,
        upload: bool = False,
    ) -> Callable[[V], V]:
        """Declare a view as an operation.

        `changes` wants If-Match; `stores` takes an Idempotency-Key; `headers` names what a success carries;
        `secret` that it shows what no other answer does: it is kept sealed and never shortened;
        `patch_example` lets the body be a merge patch too, which the view reads by `whole_or_patched`;
        `problems` adds statuses beside those that follow from the rest; `also` names further media types
        of the success with what they hold; `name` is the operation's where it is not the view's; `upload`
        takes a file for its body.
        A view returns the body, or (body, headers), or a Response.
        """
        statuses = _problem_statuses(scope, body or upload, query, changes, stores, problems)
        shortened = (changes or stores) and "ETag" in headers and not secret

        def declare(view: V) -> V:
            wrapped: View = view
            operation = name or view.__name__
            if body is not None and patch_example is not None:
                wrapped = self.doc(requestBody=patch.documented(body, example, patch_example))(wrapped)
            elif body is not None:
                wanted = not getattr(body, "may_be_left_out", False)
                taken = {"location": "json", "arg_name": "body", "example": example, "required": wanted}
                wrapped = self.arguments(_instance(body), **taken)(wrapped)
            if query is not None:
                wrapped = self.arguments(_instance(query), location="query", arg_name="query")(wrapped)
            documented = {name: HEADERS[name] for name in headers} or None
            wrapped = self.response(status, answer, headers=documented)(wrapped)
            for media_type, meaning in (also or {}).items():
                text = {"type": "string"}
                wrapped = self.response(status, text, content_type=media_type, description=meaning)(wrapped)
            if method == "GET" and "ETag" in headers:
                wrapped = self.alt_response(304, description="as held already: no body")(wrapped)
            if status == 200 and shortened:
                wrapped = self.alt_response(204, description="as preferred: no body")(wrapped)
            for code in statuses:
                wrapped = self.alt_response(code, _status_name(code))(wrapped)
            wrapped = self.doc(
                operationId=operation,
                summary=summary,
                description=(view.__doc__ or "").strip() or summary,
                security=[{"bearerKey": []}] if scope else [],
                parameters=[
                    *_query_taken(query),
                    *_headers_taken(method, changes, stores, shortened, headers),
                ],
                **({"requestBody": uploads.described()} if upload else {}),
            )(wrapped)
            once = _once(stores, secret)
            run = _around(wrapped, scope, once, shortened, upload)
            self.add_url_rule(rule, operation, run, methods=[method])
            return view

        return declare

    def public_operation(
        self,
        method: str,
        rule: str,
        summary: str,
        *,
        body: type[ma.Schema],
        answer: Schema,
        example: Mapping[str, Any],
        problems: Sequence[int] = (),
    ) -> Callable[[V], V]:
        """Declare a view that stands behind a door of its own (`service/api/public`), reads its body itself
        and works without a session."""

        def declare(view: V) -> V:
            taken = {"schema": body, "example": example}
            wrapped: View = self.response(200, answer)(view)
            for code in sorted({400, 401, 403, 413, 415, 422, 503, *problems}):
                wrapped = self.alt_response(code, _status_name(code))(wrapped)
            wrapped = self.doc(
                operationId=view.__name__,
                summary=summary,
                description=(view.__doc__ or "").strip(),
                security=[{"bearerKey": []}],
                requestBody={"required": True, "content": {"application/json": taken}},
            )(wrapped)
            self.add_url_rule(rule, view.__name__, wrapped, methods=[method])
            self.record(lambda state: _bare(state, view))
            return view

        return declare


def _instance(schema: Schema) -> ma.Schema:
    """Made once and not for each request."""
    return schema() if isinstance(schema, type) else schema


def _bare(state: BlueprintSetupState, view: View) -> None:
    """Call the view itself: what was wrapped around it describes answers and would only cost time."""
    state.app.view_functions[f"{state.name}.{view.__name__}"] = view


def _once(stores: bool, secret: bool) -> Once:
    """How often the work of an operation is done: once for an Idempotency-Key, if it takes one."""
    if not stores:
        return lambda _, work: work()
    return idempotent.sealed_once if secret else idempotent.once


def _around(view: View, scope: Scope | None, once: Once, shortened: bool, upload: bool) -> View:
    """`view` inside the request's one session, committed once at its end."""

    @wraps(view)
    def run(**path: Any) -> Response:
        if scope is None:
            return unless_known(view(**path))
        with context.request_session() as session:
            admit(session, scope)
            with uploads.receiving() if upload else nullcontext():
                answered = once(session, lambda: view(**path))
            keys.note_use(session, context.caller(), context.now())
            session.commit()
        return as_preferred(answered) if shortened else unless_known(answered)

    return run


def _query_taken(query: type[ma.Schema] | ma.Schema | None) -> list[Mapping[str, Any]]:
    """The query as the description wants it: parameters named here would else take the place of it."""
    return [] if query is None else [{"in": "query", "schema": query}]


def _headers_taken(
    method: str, changes: bool, stores: bool, shortened: bool, headers: Sequence[str]
) -> list[Mapping[str, Any]]:
    taken = (
        (IF_MATCH, changes),
        (IF_NONE_MATCH, "ETag" in headers and method == "GET"),
        (IDEMPOTENCY_KEY, stores),
        (PREFER, shortened),
    )
    return [header for header, yes in taken if yes]


def _problem_statuses(
    scope: Scope | None, body: object, query: object, changes: bool, stores: bool, more: Sequence[int]
) -> list[int]:
    found = set(more)
    found |= {401, 403, 429, 503} if scope else set()
    found |= {400, 413, 415, 422} if body else set()
    found |= {422} if query else set()
    found |= {404, 412, 428} if changes else set()
    found |= {409, 422} if stores else set()
    return sorted(found)


def _status_name(code: int) -> str:
    return HTTPStatus(code).name
