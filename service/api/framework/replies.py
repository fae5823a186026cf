"""Answers that are no dump of one schema."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from flask import Response, request

from service.api.framework.problems import Problem

_text_of = json.JSONEncoder(ensure_ascii=False, allow_nan=False).encode


def reply(document: Any, status: int = 200, headers: Mapping[str, str] | None = None) -> Response:
    """A JSON document as it stands; a figure that is not finite is a fault of ours and fails here."""
    return Response(_text_of(document), status, dict(headers or {}), content_type="application/json")


def drawing(svg: str, headers: Mapping[str, str] | None = None) -> Response:
    return Response(svg, 200, dict(headers or {}), content_type="image/svg+xml; charset=utf-8")


def nothing() -> Response:
    return Response(status=204)


def chosen(*media_types: str) -> str:
    """The media type that the caller would rather have; 406 where it takes none of them."""
    if not request.accept_mimetypes:
        return media_types[0]
    best: str | None = request.accept_mimetypes.best_match(media_types)
    if best is None:
        raise Problem(406, f"This answers {' or '.join(media_types)}.")
    return best
