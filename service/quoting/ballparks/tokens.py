"""The token of a ballpark: its answers and range, signed, good for one organisation and some weeks."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from functools import lru_cache
from typing import Any
from uuid import UUID

from itsdangerous import BadData, URLSafeTimedSerializer
from itsdangerous.encoding import base64_encode

DAYS = 30
TRAP = "trap"


class BadToken(ValueError):
    """No token of this organisation's, or one that has expired."""


class _Unpacked(URLSafeTimedSerializer):
    """Not compressed: of so few letters that gains little and takes longer than the rest."""

    def dump_payload(self, obj: Any) -> bytes:
        return base64_encode(json.dumps(obj, separators=(",", ":")))


@lru_cache(maxsize=256)
def _signer(pepper: str, purpose: str) -> _Unpacked:
    by = {"digest_method": hashlib.sha256, "key_derivation": "hmac"}
    return _Unpacked(pepper, salt=f"ballpark/{purpose}", signer_kwargs=by)


def sign(pepper: str, org_id: UUID | str, told: Mapping[str, Any]) -> str:
    """`told` can be read by whoever holds the token; the organisation is in the signature only."""
    return str(_signer(pepper, str(org_id)).dumps(told))


def read(pepper: str, org_id: UUID, token: str, days: int | None = DAYS) -> dict[str, Any]:
    """What the token tells; BadToken where the organisation did not sign it within so many days."""
    try:
        told: dict[str, Any] = _signer(pepper, str(org_id)).loads(token, days and 86_400 * days)
    except BadData as fault:
        raise BadToken("No ballpark of this office, or one that has expired.") from fault
    return told
