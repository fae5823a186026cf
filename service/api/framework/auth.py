"""Who may call what: `Authorization: Bearer KEY`, and a scope for each operation."""

from __future__ import annotations

from typing import Literal

import structlog
from flask import g, request
from sqlalchemy.orm import Session

from service.api.framework import context, limits
from service.api.framework.problems import Problem
from service.quoting import keys

Scope = Literal["quotes", "prices", "reprice", "ballpark", "admin"]
CHALLENGE = {"WWW-Authenticate": 'Bearer realm="floors"'}


def admit(session: Session, scope: Scope) -> None:
    """Bind the session to the caller's organisation; 401 without a good key, 429 where it has used up
    its quota of the minute, 403 without the scope."""
    held = keys.authenticate(session, bearer(), context.parts().settings.key_pepper)
    if held is None:
        raise Problem(401, "This API key is not valid.", "unauthenticated", headers=CHALLENGE)
    g.caller = held
    structlog.contextvars.bind_contextvars(org=str(held.org_id))
    limits.count("requests", str(held.id), held.requests_per_minute)
    if not {scope, "admin"} & held.scopes:
        raise Problem(403, f"This API key lacks the scope {scope}.", "scope-missing")


def bearer() -> str:
    """The key of the current request; 401 where it sends none."""
    scheme, _, key = request.headers.get("Authorization", "").partition(" ")
    if scheme.lower() != "bearer" or not key.strip():
        raise Problem(
            401, "Send Authorization: Bearer with an API key.", "unauthenticated", headers=CHALLENGE
        )
    return key.strip()
