"""API keys: stored as a keyed hash, found by possession."""

from __future__ import annotations

import hashlib
import hmac
from collections.abc import Sequence
from datetime import datetime
from uuid import UUID

from sqlalchemy import func, or_, select, update
from sqlalchemy.orm import Session

from service.store import rows
from service.store.models import ApiKey
from service.store.session import bind_caller, bind_key_hash, org_of

PREFIX_LENGTH = 6
NOTED_EVERY_S = 60


def hash_key(key: str, pepper: str) -> str:
    """HMAC-SHA-256 of the key under the service's pepper, in hex."""
    return hmac.new(pepper.encode(), key.encode(), hashlib.sha256).hexdigest()


def add_key(
    session: Session,
    key: str,
    pepper: str,
    name: str,
    scopes: Sequence[str],
    expires_at: datetime | None = None,
    origins: Sequence[str] = (),
    requests_per_minute: int | None = None,
) -> ApiKey:
    """Store a key of the session's organisation; with origins it is one for web pages."""
    return rows.add(
        session,
        ApiKey,
        key_hash=hash_key(key, pepper),
        prefix=key[:PREFIX_LENGTH] if len(key) > 2 * PREFIX_LENGTH else "",
        name=name,
        scopes=list(scopes),
        expires_at=expires_at,
        publishable=bool(origins),
        origins=sorted(set(origins)),
        requests_per_minute=requests_per_minute,
    )


def key_in_force(session: Session, key: str, pepper: str) -> ApiKey | None:
    """The row of this key, unless revoked or expired; the session is then bound to its organisation.

    The session need not be bound to an organisation before: whoever holds the key may see its row. The hash
    that the index found is compared once more in constant time.
    """
    key_hash = hash_key(key, pepper)
    bind_key_hash(session, key_hash)
    query = select(ApiKey).where(
        ApiKey.key_hash == key_hash,
        ApiKey.revoked_at.is_(None),
        or_(ApiKey.expires_at.is_(None), ApiKey.expires_at > func.now()),
    )
    found = session.scalars(query.order_by(ApiKey.created_at.desc()).limit(1)).one_or_none()
    if found is None or not hmac.compare_digest(found.key_hash, key_hash):
        return None
    bind_caller(session, found.org_id, found.id)
    return found


def note_use(session: Session, key_id: UUID) -> None:
    """Remember when the key was last used, without a write for each request."""
    stale = func.now() - func.make_interval(0, 0, 0, 0, 0, 0, NOTED_EVERY_S)
    session.execute(
        update(ApiKey)
        .where(
            ApiKey.org_id == org_of(session),
            ApiKey.id == key_id,
            or_(ApiKey.last_used_at.is_(None), ApiKey.last_used_at < stale),
        )
        .values(last_used_at=func.now()),
        execution_options={"synchronize_session": False},
    )
