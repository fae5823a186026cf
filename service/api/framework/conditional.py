"""Conditional requests (RFC 9110, 13) by a row's version: the ETag of version 3 is "v3", always strong."""

from __future__ import annotations

import re
from collections.abc import Mapping

from flask import Response, request

from service.api.framework.problems import Problem


def etag(version: int) -> str:
    return f'"v{version}"'


def tagged(version: int) -> Mapping[str, str]:
    """The headers of a resource at this version."""
    return {"ETag": etag(version)}


def expected_versions() -> frozenset[int] | None:
    """The versions that If-Match lets pass, None for any (`*`); 428 where the header is missing.

    A weak tag never matches (RFC 9110, 13.1.1), nor does a tag that this service did not give.
    """
    if not request.headers.get("If-Match", "").strip():
        detail = "Send If-Match with the ETag of the resource as you read it."
        raise Problem(428, detail, "precondition-required")
    if request.if_match.star_tag:
        return None
    tags = (re.fullmatch(r"v([0-9]{1,9})", tag or "") for tag in request.if_match.as_set())
    return frozenset(int(tag[1]) for tag in tags if tag)


def unless_known(response: Response) -> Response:
    """304 with the same ETag where If-None-Match names it (RFC 9110, 15.4.5)."""
    tag = response.headers.get("ETag", "")
    if request.method not in {"GET", "HEAD"} or response.status_code != 200 or not tag:
        return response
    if not request.if_none_match.contains_weak(tag.strip('"')):
        return response
    return Response(status=304, headers={"ETag": tag})
