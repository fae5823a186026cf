"""API keys of the organisation: made, listed, rotated, revoked; the key itself is shown once."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any
from uuid import UUID

from flask import Response

from service.api import examples
from service.api.framework.conditional import expected_versions, tagged
from service.api.framework.context import now, parts, session
from service.api.framework.pages import Page, PageQuery, paged
from service.api.framework.replies import nothing, reply
from service.api.framework.routes import Routes
from service.api.schemas.catalogue import page_schema
from service.api.schemas.keys import KeyAnswer, KeyRotationSchema, KeySchema, NewKeyAnswer
from service.quoting import catalogue
from service.quoting import keys as use_cases
from service.store.models import ApiKey

routes = Routes("keys", __name__, url_prefix="/v1/keys", description="API keys")


@routes.operation(
    "GET", "", "List keys", scope="admin", query=PageQuery, answer=page_schema(KeyAnswer), headers=("Link",)
)
def list_keys(query: dict[str, Any]) -> tuple[Page, dict[str, str]]:
    """Newest first, the revoked ones too; never the keys themselves."""
    page = paged(query, partial(use_cases.list_keys, session()))
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
    stores=True,
    secret=True,
    headers=("Location", "ETag"),
)
def make_key(body: dict[str, Any]) -> Response:
    """No other answer holds the key. For an Idempotency-Key it is kept sealed, and comes again whole."""
    return _shown(*use_cases.make_key(session(), parts().settings.key_pepper, **body))


def _shown(row: ApiKey, secret: str) -> Response:
    headers = {"Location": f"/v1/keys/{row.id}", **tagged(row.version)}
    return reply(KeyAnswer().dump(row) | {"key": secret}, 201, headers)


@routes.operation(
    "GET", "/<uuid:key_id>", "Read a key", scope="admin", answer=KeyAnswer, headers=("ETag",), problems=(404,)
)
def get_key(key_id: UUID) -> tuple[ApiKey, Mapping[str, str]]:
    """What is known of it, not the key itself."""
    row = catalogue.get(session(), use_cases.KEYS, key_id)
    return row, tagged(row.version)


@routes.operation(
    "POST",
    "/<uuid:key_id>/rotate",
    "Replace a key",
    scope="admin",
    body=KeyRotationSchema,
    answer=NewKeyAnswer,
    status=201,
    example=examples.KEY_ROTATION,
    changes=True,
    stores=True,
    secret=True,
    headers=("Location", "ETag"),
)
def rotate_key(key_id: UUID, body: dict[str, Any]) -> Response:
    """A new key with the name, scopes, origins, quota and last day of the old one, which works on for the
    overlap: time to put the new one everywhere. The If-Match is the old key's."""
    pepper, overlap = parts().settings.key_pepper, body["overlap_hours"]
    return _shown(*use_cases.rotate(session(), key_id, expected_versions(), pepper, now(), overlap))


@routes.operation("DELETE", "/<uuid:key_id>", "Revoke a key", scope="admin", status=204, changes=True)
def revoke_key(key_id: UUID) -> Response:
    """For good, at once. The row stays in the list, one version on."""
    use_cases.revoke(session(), key_id, expected_versions(), now())
    return nothing()
