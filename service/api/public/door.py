"""The door of a public operation: how often, with which key, from which page; and its answers' headers.

Browsers: https://fetch.spec.whatwg.org/#http-cors-protocol
"""

from __future__ import annotations

from typing import cast
from urllib.parse import urlsplit

import structlog
from flask import Blueprint, Response, current_app, g, request

from service.api.framework import limits
from service.api.framework.auth import CHALLENGE, bearer
from service.api.framework.problems import Problem
from service.quoting.ballparks.desk import Desk, PublicKey

SCOPE = "ballpark"
MAX_BODY_BYTES = 4096
PREFLIGHT_S = 600
EXPOSED = "RateLimit, RateLimit-Policy, Retry-After"


def guard(routes: Blueprint) -> None:
    """Let every operation of `routes` through this door only."""
    routes.before_request(_enter)
    routes.after_request(_leave)


def desk() -> Desk:
    return cast(Desk, current_app.extensions["ballpark_desk"])


def caller() -> PublicKey:
    return cast(PublicKey, g.public_key)


def _enter() -> Response | None:
    """Address, key, origin, key's quota: what is cheap comes first, and nothing of the body is read yet.

    Until the key is known any page may read the refusal, which tells nothing of anybody.
    """
    request.max_content_length = MAX_BODY_BYTES
    asking = request.method != "OPTIONS"
    g.allowed_origin = request.headers.get("Origin") if asking else None
    limits.count("address", limits.counted_as(request.remote_addr or ""))
    if not asking:
        return _preflight()
    found = desk().key(bearer())
    if found is None:
        raise Problem(401, "This API key is not valid.", "unauthenticated", headers=CHALLENGE)
    g.public_key, g.allowed_origin = found, None
    structlog.contextvars.bind_contextvars(org=str(found.org_id))
    if not {SCOPE, "admin"} & found.scopes:
        raise Problem(403, f"This API key lacks the scope {SCOPE}.", "scope-missing")
    _check_origin(found)
    limits.count("key", found.counted_as, found.requests_per_minute)
    return None


def _check_origin(key: PublicKey) -> None:
    """A publishable key opens only for pages of its origins and for the service's own."""
    origin = request.headers.get("Origin")
    if origin is not None and (origin in key.origins or _own(origin)):
        g.allowed_origin = origin
    elif key.publishable:
        raise Problem(403, "This key is not for pages of this origin.", "origin-refused")


def _own(origin: str) -> bool:
    return urlsplit(origin).netloc == request.host


def _preflight() -> Response:
    """The browser's question before it shows its key: only whether any key is meant for its page."""
    origin = request.headers.get("Origin", "")
    if origin and (_own(origin) or desk().origin_known(origin)):
        g.allowed_origin = origin
        allowed = {
            "Access-Control-Allow-Methods": "POST",
            "Access-Control-Allow-Headers": "Authorization, Content-Type",
            "Access-Control-Max-Age": str(PREFLIGHT_S),
        }
        return Response(status=204, headers=allowed)
    return Response(status=204)


def _leave(response: Response) -> Response:
    told = [("Vary", "Origin"), ("Cache-Control", "no-store")]
    origin = g.get("allowed_origin")
    if origin is not None:
        told += [
            ("Access-Control-Allow-Origin", origin),
            ("Access-Control-Expose-Headers", EXPOSED),
            ("Cross-Origin-Resource-Policy", "cross-origin"),
        ]
    response.headers.extend(told)
    return response
