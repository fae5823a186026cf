"""What the office should know of a quote's prices, from what is stored about them."""

from __future__ import annotations

from datetime import date
from uuid import UUID

from sqlalchemy.orm import Session

from service.pricing.model import Priced
from service.pricing.notices import outlived
from service.store import rows
from service.store.models import PriceList


def with_notices(session: Session, priced: Priced, valid_until: date) -> Priced:
    """The priced quote with a notice for each price list that ends before the quote does."""
    used = {UUID(line.price_list) for line in priced.lines if line.price_list}
    found = rows.by_ids(session, PriceList, used).values()
    ends = {str(row.id): row.valid_until for row in found if row.valid_until is not None}
    return outlived(priced, ends, valid_until)
