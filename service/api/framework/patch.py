"""A body that is whole, or a merge patch (RFC 7396) onto what was sent last."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import marshmallow as ma
from flask import g, request

from service.api.framework.body import request_json
from service.api.framework.problems import Fault, Problem, body_faults, invalid

MEDIA_TYPE = "application/merge-patch+json"
BOTH = f"application/json, {MEDIA_TYPE}"


def whole_or_patched(
    schema: type[ma.Schema], last: Callable[[Mapping[str, Any]], Mapping[str, Any]]
) -> tuple[dict[str, Any], dict[str, Any]]:
    """The whole document and what `schema` loads of it; `last` gives what a patch goes onto."""
    if request.mimetype not in ("application/json", MEDIA_TYPE):
        raise Problem(415, f"The body must be {BOTH}.", headers={"Accept-Post": BOTH})
    said = request_json()
    if not isinstance(said, dict):
        raise invalid(Fault("Must be an object.", pointer=""))
    document = merged(last(said), said) if request.mimetype == MEDIA_TYPE else said
    g.document = document
    try:
        return document, schema().load(document)
    except ma.ValidationError as error:
        raise invalid(*body_faults(error.messages)) from None


def merged(target: Any, patch: Any) -> Any:
    """`target` with the patch applied: objects member by member, null removes, all else is replaced."""
    if not isinstance(patch, Mapping):
        return patch
    base = dict(target) if isinstance(target, Mapping) else {}
    for name, value in patch.items():
        if value is None:
            base.pop(name, None)
        else:
            base[name] = merged(base.get(name), value)
    return base


def documented(schema: type[ma.Schema] | ma.Schema, example: Any, patch: Any) -> dict[str, Any]:
    """The request body for the description."""
    return {
        "required": True,
        "content": {
            "application/json": {"schema": schema, "example": example},
            MEDIA_TYPE: {"schema": {"type": "object"}, "example": patch},
        },
    }
