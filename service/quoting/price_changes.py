"""What a new price list means for the quotes that are open."""

from __future__ import annotations

from uuid import UUID

from sqlalchemy import Engine

from service.store import changed_prices
from service.store.session import transaction


def note_price_change(engine: Engine, org_id: UUID, price_list_id: UUID) -> int:
    """Mark the organisation's open quotes whose prices this list changes; returns how many.

    Doing it twice, or after a crash half-way, gives the same marks.
    """
    with transaction(engine, org_id) as session:
        return changed_prices.note_price_change(session, price_list_id)
