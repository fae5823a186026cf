"""`Idempotency-Key`: the same request sent twice is done once.

Within the transaction of the work: lock the key, give back a stored answer, or work and store the answer
before the one commit. Only successes are stored: a refused request stored nothing and may be tried again.
An answer that shows a secret is stored sealed, so that whoever lost it can ask again and no table holds it.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable
from dataclasses import dataclass

from flask import Response, request
from sqlalchemy.orm import Session

from service.api.framework import context, uploads
from service.api.framework.body import raw_body, request_json
from service.api.framework.problems import Problem
from service.quoting.webhooks.sealing import ANSWERS, seal, unseal
from service.store import idempotency

KEPT_HEADERS = ("Content-Type", "Location", "ETag")


@dataclass(frozen=True, slots=True)
class Keeping:
    """How the body of an answer is written down, and read again."""

    write: Callable[[bytes], bytes]
    read: Callable[[bytes], bytes]


def once(session: Session, work: Callable[[], Response]) -> Response:
    """The answer of `work`, or the one that this Idempotency-Key got before."""
    return _once(session, work, Keeping(bytes, bytes))


def sealed_once(session: Session, work: Callable[[], Response]) -> Response:
    """The same for an answer that shows a secret."""
    pepper = context.parts().settings.key_pepper
    sealed = Keeping(
        lambda body: seal(body.decode(), pepper, ANSWERS).encode(),
        lambda kept: unseal(kept.decode(), pepper, ANSWERS).encode(),
    )
    return _once(session, work, sealed)


def _once(session: Session, work: Callable[[], Response], keeping: Keeping) -> Response:
    key = _key()
    if key is None:
        return work()
    if not idempotency.try_lock(session, key):
        detail = "The first request with this Idempotency-Key has not ended; ask again."
        raise Problem(409, detail, "idempotency-in-flight", headers={"Retry-After": "1"})
    fingerprint = _fingerprint()
    stored = idempotency.find_answer(session, key)
    if stored is None:
        return _kept(session, key, fingerprint, work(), keeping)
    if stored.fingerprint != fingerprint:
        raise Problem(422, "This Idempotency-Key came with another request.", "idempotency-reused")
    body = keeping.read(stored.body)
    return Response(body, stored.status, {**stored.headers, "Idempotency-Replayed": "true"})


def _kept(session: Session, key: str, fingerprint: str, answered: Response, keeping: Keeping) -> Response:
    headers = {name: answered.headers[name] for name in KEPT_HEADERS if name in answered.headers}
    hours = context.parts().settings.idempotency_hours
    if 200 <= answered.status_code < 300:
        body = keeping.write(answered.get_data())
        idempotency.save_answer(session, key, fingerprint, answered.status_code, headers, body, hours)
    return answered


def _key() -> str | None:
    """The key, bare or as a quoted structured-field string."""
    header = request.headers.get("Idempotency-Key")
    if header is None:
        return None
    key = re.fullmatch(r'"([!#-~]{1,200})"|([!#-~]{1,200})', header.strip(" \t"))
    if key is None:
        raise Problem(400, "An Idempotency-Key has 1 to 200 printable characters and no blanks.")
    return key[1] or key[2]


def _fingerprint() -> str:
    """SHA-256 of the method, the path and the body in canonical form, or of a file as it is."""
    said = "\n".join((request.method, request.full_path, uploads.digest() or _canonical_body()))
    return hashlib.sha256(said.encode()).hexdigest()


def _canonical_body() -> str:
    return json.dumps(request_json(), sort_keys=True, separators=(",", ":")) if raw_body(request) else ""
