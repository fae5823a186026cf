"""`Prefer: return=minimal` (RFC 7240, 4.2): a change answered by its headers alone."""

from __future__ import annotations

import re

from flask import Response, request

APPLIED = {"Preference-Applied": "return=minimal"}
KEPT = ("Location", "ETag", "Link", "Idempotency-Replayed")


def as_preferred(answered: Response) -> Response:
    """The answer, without its body where the caller prefers that and can read the resource back.

    201 stays, since it says that something was made; 200 becomes 204.
    """
    if not _minimal() or "ETag" not in answered.headers or answered.status_code not in (200, 201):
        return answered
    headers = {name: answered.headers[name] for name in KEPT if name in answered.headers}
    short = Response(status=204 if answered.status_code == 200 else 201, headers={**headers, **APPLIED})
    del short.headers["Content-Type"]
    return short


def _minimal() -> bool:
    """The first `return` preference counts (RFC 7240, 2)."""
    said = ",".join(request.headers.getlist("Prefer")).lower()
    found = re.search(r'(?:^|,)\s*return\s*=\s*"?(\w+)"?\s*(?=$|[,;])', said)
    return found is not None and found[1] == "minimal"
