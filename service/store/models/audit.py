"""What was changed: written by the database's triggers alone."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import Index, text
from sqlalchemy.orm import Mapped, mapped_column

from service.store.models.base import Base, Identified


class AuditEntry(Identified, Base):
    """A change of what prices come from: by whose key, of what, from what to what.

    Of a changed row `old` and `new` hold the columns that differ. Without a key it was the command line.
    """

    __tablename__ = "audit_entries"
    __table_args__ = (
        Index(None, "org_id", "created_at", "id"),
        Index("audit_entries_subject_idx", "org_id", "subject", "subject_id", "created_at"),
    )

    id: Mapped[UUID] = mapped_column(
        primary_key=True, server_default=text("gen_random_uuid()"), sort_order=-1
    )
    key_id: Mapped[UUID | None]
    action: Mapped[str]
    subject: Mapped[str]
    subject_id: Mapped[UUID]
    old: Mapped[dict[str, Any] | None]
    new: Mapped[dict[str, Any] | None]
    created_at: Mapped[datetime] = mapped_column(server_default=text("clock_timestamp()"))
