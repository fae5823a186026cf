"""The door of a public operation: how often, with which key, from which page; and its answers' headers.

Browsers: https://fetch.spec.whatwg.org/#http-cors-protocol
"""

from __future__ import annotations

from typing import cast
from urllib.parse import urlsplit

from flask import Blueprint, Response, current_app, g, request

from service.api.framework.auth import bearer
from service.api.framework.problems import Problem
from service.api.public.limits import Limits, Standing
from service.quoting.ballparks.desk import Desk, PublicKey
from service.store.keys import hash_key

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
    """Address, key, key's quota, origin: what is cheap comes first, and nothing of the body is read yet."""
    request.max_content_length = MAX_BODY_BYTES
    g.standings = []
    _count("address", request.remote_addr or "")
    if request.method == "OPTIONS":
        return _preflight()
    key = bearer()
    found = desk().key(key)
    if found is None:
        raise Problem(401, "This API key is not valid.", "unauthenticated", headers=_challenge())
    g.public_key = found
    if not {SCOPE, "admin"} & found.scopes:
        raise Problem(403, f"This API key lacks the scope {SCOPE}.", "scope-missing")
    _check_origin(found)
    _count("key", hash_key(key, ""))
    return None


def _challenge() -> dict[str, str]:
    return {"WWW-Authenticate": 'Bearer realm="floors"'}


def _check_origin(key: PublicKey) -> None:
    """A publishable key opens only for pages of its origins and for the service's own."""
    origin = request.headers.get("Origin")
    if origin is not None and (origin in key.origins or _own(origin)):
        g.allowed_origin = origin
    elif key.publishable:
        raise Problem(403, "This key is not for pages of this origin.", "origin-refused")


def _own(origin: str) -> bool:
    return urlsplit(origin).netloc == request.host


def _count(name: str, who: str) -> None:
    limits: Limits = current_app.extensions["ballpark_limits"]
    standing = limits.hit(name, who)
    g.standings.append(standing)
    if not standing.allowed:
        after = {"Retry-After": str(standing.reset_s)}
        raise Problem(429, f"More requests than this {name} may send in a minute.", "too-many", headers=after)


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
    response.vary.add("Origin")
    origin = g.get("allowed_origin")
    if origin is not None:
        response.headers["Access-Control-Allow-Origin"] = origin
        response.headers["Access-Control-Expose-Headers"] = EXPOSED
        response.headers["Cross-Origin-Resource-Policy"] = "cross-origin"
    standings: list[Standing] = g.get("standings", [])
    if standings:
        response.headers["RateLimit-Policy"] = ", ".join(standing.policy for standing in standings)
        response.headers["RateLimit"] = ", ".join(standing.limit for standing in standings)
    response.headers["Cache-Control"] = "no-store"
    return response
