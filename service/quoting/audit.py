"""What was changed of all that prices come from: read only, since triggers write it."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy.orm import Session

from service.store import audit as store
from service.store import rows
from service.store.audit import Asked
from service.store.models import AuditEntry

__all__ = ["Asked", "entries"]


def entries(session: Session, asked: Asked, limit: int, after: rows.Cursor | None) -> Sequence[AuditEntry]:
    """Newest first, after the cursor."""
    return store.entries(session, asked, limit, after)
