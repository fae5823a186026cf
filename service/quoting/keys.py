"""API keys: made, shown once, known by their keyed hash, rotated, revoked."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from sqlalchemy.orm import Session

from service.quoting import catalogue
from service.quoting.catalogue import Kind, Versions
from service.quoting.errors import Conflict
from service.store import keys as key_store
from service.store import rows
from service.store.models import ApiKey

KEYS = Kind("key", ApiKey)
NOTED_EVERY = timedelta(seconds=key_store.NOTED_EVERY_S)


@dataclass(frozen=True, slots=True)
class HeldKey:
    """A key in use: whose it is and what it may."""

    id: UUID
    org_id: UUID
    scopes: frozenset[str]
    requests_per_minute: int | None = None
    last_used_at: datetime | None = None

    def noted(self, now: datetime) -> bool:
        """Whether it is on record that the key was used lately."""
        return self.last_used_at is not None and now - self.last_used_at < NOTED_EVERY


def authenticate(session: Session, key: str, pepper: str) -> HeldKey | None:
    """The key in force, to whose organisation the session is then bound; None for any other."""
    row = key_store.key_in_force(session, key, pepper)
    if row is None:
        return None
    return HeldKey(row.id, row.org_id, frozenset(row.scopes), row.requests_per_minute, row.last_used_at)


def note_use(session: Session, key: HeldKey, now: datetime) -> None:
    """Remember that the key was used; the last act before the commit, since it locks the key's row."""
    if not key.noted(now):
        key_store.note_use(session, key.id)


def make_key(
    session: Session,
    pepper: str,
    name: str,
    scopes: Sequence[str],
    expires_at: datetime | None = None,
    origins: Sequence[str] = (),
    requests_per_minute: int | None = None,
) -> tuple[ApiKey, str]:
    """A new key of the session's organisation: 256 random bits, of which only the hash is stored.

    One with origins is publishable: for web pages of these origins, and for ballparks alone.
    """
    secret = f"{'pub' if origins else 'key'}_{secrets.token_urlsafe(32)}"
    own = sorted(set(scopes))
    row = key_store.add_key(session, secret, pepper, name, own, expires_at, origins, requests_per_minute)
    return row, secret


def list_keys(session: Session, limit: int, after: rows.Cursor | None) -> Sequence[ApiKey]:
    """Keys, newest first, the revoked ones too."""
    return rows.page(session, ApiKey, limit, after)


def revoke(session: Session, key_id: UUID, expected: Versions, now: datetime) -> None:
    """End a key for good; revoking it again changes nothing. NotFound, Stale."""
    version = catalogue.at_version(session, KEYS, key_id, expected)
    if catalogue.get(session, KEYS, key_id).revoked_at is None:
        catalogue.fresh(rows.change(session, ApiKey, key_id, version, revoked_at=now))


def rotate(
    session: Session, key_id: UUID, expected: Versions, pepper: str, now: datetime, overlap_hours: int
) -> tuple[ApiKey, str]:
    """A new key that may what the old one may; the old one ends with the overlap, or as it would have before.

    NotFound, Stale, Conflict where it is revoked or over.
    """
    version = catalogue.at_version(session, KEYS, key_id, expected)
    old = catalogue.get(session, KEYS, key_id)
    if old.revoked_at is not None or (old.expires_at is not None and old.expires_at <= now):
        raise Conflict("the key is no longer in force; make a new one")
    lasts = old.expires_at
    until = now + timedelta(hours=overlap_hours)
    ends = until if lasts is None else min(lasts, until)
    catalogue.fresh(rows.change(session, ApiKey, key_id, version, expires_at=ends))
    return make_key(session, pepper, old.name, old.scopes, lasts, old.origins, old.requests_per_minute)
