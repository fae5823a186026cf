"""API keys: made, shown once, known by their keyed hash, revoked."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from sqlalchemy.orm import Session

from service.quoting import catalogue
from service.quoting.catalogue import Kind, Versions
from service.store import keys as key_store
from service.store import rows
from service.store.models import ApiKey

KEYS = Kind("key", ApiKey)


@dataclass(frozen=True, slots=True)
class HeldKey:
    """A key in use: whose it is and what it may."""

    id: UUID
    org_id: UUID
    scopes: frozenset[str]


def authenticate(session: Session, key: str, pepper: str) -> HeldKey | None:
    """The key in force, to whose organisation the session is then bound; None for any other."""
    row = key_store.key_in_force(session, key, pepper)
    return None if row is None else HeldKey(row.id, row.org_id, frozenset(row.scopes))


def note_use(session: Session, key: HeldKey) -> None:
    """Remember that the key was used; the last act before the commit, since it locks the key's row."""
    row = rows.find(session, ApiKey, key.id)
    if row is not None:
        key_store.note_use(session, row)


def make_key(
    session: Session,
    pepper: str,
    name: str,
    scopes: Sequence[str],
    expires_at: datetime | None = None,
    origins: Sequence[str] = (),
) -> tuple[ApiKey, str]:
    """A new key of the session's organisation: 256 random bits, of which only the hash is stored.

    One with origins is publishable: for web pages of these origins, and for ballparks alone.
    """
    secret = f"{'pub' if origins else 'key'}_{secrets.token_urlsafe(32)}"
    own = sorted(set(scopes))
    return key_store.add_key(session, secret, pepper, name, own, expires_at, origins), secret


def list_keys(session: Session, limit: int, after: rows.Cursor | None) -> Sequence[ApiKey]:
    """Keys, newest first, the revoked ones too."""
    return rows.page(session, ApiKey, limit, after)


def revoke(session: Session, key_id: UUID, expected: Versions, now: datetime) -> None:
    """End a key for good; revoking it again changes nothing. NotFound, Stale."""
    catalogue.at_version(session, KEYS, key_id, expected)
    row = catalogue.get(session, KEYS, key_id)
    row.revoked_at = row.revoked_at or now
    session.flush()
