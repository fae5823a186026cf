"""API keys of the organisation: made, listed, revoked; the key itself is shown once."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from flask import Response

from service.api import examples
from service.api.framework.context import now, parts, session
from service.api.framework.pages import Page, PageQuery, decode, page_of
from service.api.framework.replies import nothing, reply
from service.api.framework.routes import Routes
from service.api.schemas.catalogue import page_schema
from service.api.schemas.office import KeyAnswer, KeySchema, NewKeyAnswer
from service.quoting import keys as use_cases

routes = Routes("keys", __name__, url_prefix="/v1/keys", description="API keys")


@routes.operation(
    "GET", "", "List keys", scope="admin", query=PageQuery, answer=page_schema(KeyAnswer), headers=("Link",)
)
def list_keys(query: dict[str, Any]) -> tuple[Page, dict[str, str]]:
    """Newest first, the revoked ones too; never the keys themselves."""
    after = decode(query["cursor"]) if query["cursor"] else None
    page = page_of(use_cases.list_keys(session(), query["limit"] + 1, after), query["limit"])
    return page, page.headers


@routes.operation(
    "POST",
    "",
    "Make a key",
    scope="admin",
    body=KeySchema,
    answer=NewKeyAnswer,
    status=201,
    example=examples.KEY,
    headers=("Location",),
)
def make_key(body: dict[str, Any]) -> Response:
    """The answer is the only one that holds the key, so it is not kept for an Idempotency-Key."""
    row, secret = use_cases.make_key(session(), parts().settings.key_pepper, **body)
    return reply(KeyAnswer().dump(row) | {"key": secret}, 201, {"Location": f"/v1/keys/{row.id}"})


@routes.operation("DELETE", "/<uuid:key_id>", "Revoke a key", scope="admin", status=204, problems=(404,))
def revoke_key(key_id: UUID) -> Response:
    """For good, at once; revoking again changes nothing, so no If-Match is asked for."""
    use_cases.revoke(session(), key_id, now())
    return nothing()
