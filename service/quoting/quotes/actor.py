"""Who acts on a quote, and when."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from service.quoting import office
from service.store.quotes import Happening


@dataclass(frozen=True, slots=True)
class Actor:
    """The API key that a use case was called by (None: the service itself) and the time of the call."""

    now: datetime
    key_id: UUID | None = None

    def says(self, **said: Any) -> Happening:
        """Something that happened now, told by this key."""
        return Happening(**{"at": self.now, "key_id": self.key_id, **said})

    def today(self, session: Session) -> date:
        """The day that it is where the organisation works."""
        return office.today(session, self.now)
