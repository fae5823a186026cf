"""Secrets, and the signature of a message (Standard Webhooks 1.0)."""

from __future__ import annotations

import base64
import hashlib
import hmac
import secrets
from collections.abc import Mapping, Sequence
from datetime import datetime

PREFIX = "whsec_"
SECRET_BYTES = 32


def new_secret() -> str:
    """256 random bits in base64 behind the prefix."""
    return PREFIX + base64.b64encode(secrets.token_bytes(SECRET_BYTES)).decode()


def signature(secret: str, message_id: str, timestamp: int, body: bytes) -> str:
    """`v1,` and the HMAC-SHA-256 of id, timestamp [s] and body, joined by full stops, in base64."""
    key = base64.b64decode(secret.removeprefix(PREFIX))
    signed = f"{message_id}.{timestamp}.".encode() + body
    return "v1," + base64.b64encode(hmac.digest(key, signed, hashlib.sha256)).decode()


def signed_headers(
    secrets_in_force: Sequence[str], message_id: str, at: datetime, body: bytes
) -> Mapping[str, str]:
    """The three headers; of several secrets each signs, so that the receiver may change over in its time."""
    timestamp = int(at.timestamp())
    signatures = [signature(secret, message_id, timestamp, body) for secret in secrets_in_force]
    return {
        "webhook-id": message_id,
        "webhook-timestamp": str(timestamp),
        "webhook-signature": " ".join(signatures),
    }
