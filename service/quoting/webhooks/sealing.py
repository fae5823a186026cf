"""Secrets at rest: sealed under a key derived from the service's pepper, as signing needs them in clear."""

from __future__ import annotations

import base64
from functools import cache

from cryptography.fernet import Fernet, InvalidToken
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

PURPOSE = b"secrets of webhooks, 1"
ANSWERS = b"answers that show a secret, 1"


class Unreadable(Exception):
    """A secret that was sealed under another pepper."""


def seal(secret: str, pepper: str, purpose: bytes = PURPOSE) -> str:
    return _box(pepper, purpose).encrypt(secret.encode()).decode()


def unseal(sealed: str, pepper: str, purpose: bytes = PURPOSE) -> str:
    """The secret; Unreadable where the pepper has changed since."""
    try:
        return _box(pepper, purpose).decrypt(sealed.encode()).decode()
    except InvalidToken:
        raise Unreadable("the secret was sealed under another pepper; rotate it") from None


@cache
def _box(pepper: str, purpose: bytes) -> Fernet:
    """HKDF (RFC 5869) binds the key to its purpose, so that hashes of API keys tell nothing of it."""
    key = HKDF(SHA256(), length=32, salt=None, info=purpose).derive(pepper.encode())
    return Fernet(base64.urlsafe_b64encode(key))
