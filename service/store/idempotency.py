"""Stored answers of requests that carry an idempotency key.

The key is locked and its answer written within the transaction of the work itself, so a crash leaves nothing
half-done: neither a quote without its answer nor an answer without its quote.
"""

from __future__ import annotations

from collections.abc import Mapping

from sqlalchemy import delete, func, select
from sqlalchemy.dialects.postgresql import insert
from sqlalchemy.orm import Session

from service.store.models import IdempotencyKey
from service.store.session import org_of


def try_lock(session: Session, key: str) -> bool:
    """Lock this key of the organisation until the transaction ends; False where another request holds it."""
    name = func.hashtextextended(f"{org_of(session)}/{key}", 0)
    return bool(session.scalar(select(func.pg_try_advisory_xact_lock(name))))


def find_answer(session: Session, key: str) -> IdempotencyKey | None:
    """The answer stored for this key, unless expired."""
    query = select(IdempotencyKey).where(
        IdempotencyKey.org_id == org_of(session),
        IdempotencyKey.key == key,
        IdempotencyKey.expires_at > func.now(),
    )
    return session.scalars(query).one_or_none()


def save_answer(
    session: Session,
    key: str,
    fingerprint: str,
    status: int,
    headers: Mapping[str, str],
    body: bytes,
    hours: int,
) -> None:
    """Keep an answer for `hours`; it takes the place of an expired one."""
    answer = {
        "fingerprint": fingerprint,
        "status": status,
        "headers": dict(headers),
        "body": body,
        "expires_at": func.now() + func.make_interval(0, 0, 0, 0, hours),
    }
    statement = insert(IdempotencyKey).values(org_id=org_of(session), key=key, **answer)
    session.execute(statement.on_conflict_do_update(index_elements=["org_id", "key"], set_=answer))


def purge_expired(session: Session) -> int:
    """Delete the expired answers of every organisation (role office_batch); returns how many."""
    statement = delete(IdempotencyKey).where(IdempotencyKey.expires_at < func.now())
    done = session.execute(statement.returning(IdempotencyKey.key))
    return len(done.all())
