"""What issued documents print, as stored."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from sqlalchemy import ForeignKeyConstraint
from sqlalchemy.orm import Mapped, mapped_column

from service.store.models.base import Base, OrgRow


class QuoteImprint(OrgRow, Base):
    """What stood in the office's letterhead and of the customer when the revision was issued.

    A trigger writes it and it never changes, but that who the customer is goes when they are erased.
    """

    __tablename__ = "quote_imprints"
    __table_args__ = (
        ForeignKeyConstraint(
            ["org_id", "quote_id", "revision"],
            ["quote_revisions.org_id", "quote_revisions.quote_id", "quote_revisions.revision"],
        ),
    )

    quote_id: Mapped[UUID] = mapped_column(primary_key=True)
    revision: Mapped[int] = mapped_column(primary_key=True)
    office: Mapped[dict[str, Any]]
    customer: Mapped[dict[str, Any] | None]
