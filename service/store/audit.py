"""The record of changes, as the database's triggers wrote it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from sqlalchemy import ColumnElement
from sqlalchemy.orm import Session

from service.store import rows
from service.store.models import AuditEntry


@dataclass(frozen=True, slots=True)
class Asked:
    """What to look for; None asks nothing. `since` counts itself in, `until` does not; `without` subjects."""

    subject: str | None = None
    subject_id: UUID | None = None
    key_id: UUID | None = None
    since: datetime | None = None
    until: datetime | None = None
    without: tuple[str, ...] = ()


def entries(
    session: Session, asked: Asked, limit: int, after: rows.Cursor | None = None
) -> Sequence[AuditEntry]:
    """Up to `limit` entries, newest first, after the cursor."""
    return rows.page(session, AuditEntry, limit, after, *_where(asked))


def _where(asked: Asked) -> list[ColumnElement[bool]]:
    same = ("subject", "subject_id", "key_id")
    where = [getattr(AuditEntry, name) == getattr(asked, name) for name in same if getattr(asked, name)]
    if asked.without:
        where.append(AuditEntry.subject.not_in(asked.without))
    if asked.since is not None:
        where.append(AuditEntry.created_at >= asked.since)
    if asked.until is not None:
        where.append(AuditEntry.created_at < asked.until)
    return where
