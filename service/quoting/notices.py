"""What the office should know of a quote's prices, from what is stored about them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from uuid import UUID

from sqlalchemy.orm import Session

from service.pricing.model import Notice, Priced
from service.pricing.notices import Moved, moving, outlived
from service.quoting.basis import Basis
from service.store import rows
from service.store.coming_prices import Prices, days_of_change, prices_on
from service.store.models import PriceList, Supplier


@dataclass(frozen=True, slots=True)
class Packs:
    """So many packs that a line buys."""

    supplier: UUID
    supplier_name: str
    product: UUID
    pack_size: Decimal
    packs: int
    what: str
    last_day: date | None  # of the line's price list

    def price(self, prices: Prices) -> Decimal | None:
        """Of one of them; None where it is not sold."""
        breaks = prices.get((self.supplier, self.product, self.pack_size), [])
        return next((price for least, price in reversed(breaks) if least <= self.packs), None)


def with_notices(session: Session, priced: Priced, basis: Basis) -> Priced:
    """The priced quote with a notice for each price list that ends before the quote does, and for each day up
    to its last on which prices that it holds are known to change: by agreements that end or begin, by lists
    activated for a later day."""
    used = {UUID(line.price_list) for line in priced.lines if line.price_list}
    found = rows.by_ids(session, PriceList, used).values()
    ends = {str(row.id): row.valid_until for row in found if row.valid_until is not None}
    told = outlived(priced, ends, basis.valid_until)
    return replace(told, notices=(*told.notices, *_changes(session, _packs(priced, ends), basis)))


def _packs(priced: Priced, ends: Mapping[str, date]) -> list[Packs]:
    return [
        Packs(
            supplier=UUID(line.supplier),
            supplier_name=line.supplier_name or "",
            product=UUID(line.product),
            pack_size=line.pack_size.normalize(),
            packs=line.packs,
            what=line.description,
            last_day=ends.get(line.price_list),
        )
        for line in priced.lines
        if line.supplier and line.product and line.pack_size and line.packs and line.price_list
    ]


def _changes(session: Session, bought: Sequence[Packs], basis: Basis) -> Iterator[Notice]:
    suppliers, products = {packs.supplier for packs in bought}, {packs.product for packs in bought}
    offers = basis.job_offers
    days = days_of_change(session, suppliers, basis.day, basis.valid_until, offers) if bought else ()
    if not days:
        return
    sellers = rows.by_ids(session, Supplier, suppliers)
    before = prices_on(session, suppliers, products, basis.day, offers)
    for day in days:
        after = prices_on(session, suppliers, products, day, offers)
        for supplier, moved in _moved(bought, before, after, day).items():
            yield moving(moved[0].supplier, day, sellers[supplier].currency, moved)
        before = after


def _moved(bought: Sequence[Packs], before: Prices, after: Prices, day: date) -> dict[UUID, list[Moved]]:
    """What costs something else from the day on, by supplier. A list that has ended is told as that."""
    found: dict[UUID, list[Moved]] = defaultdict(list)
    for packs in bought:
        old, new = packs.price(before), packs.price(after)
        ended = new is None and packs.last_day is not None and packs.last_day < day
        if old is not None and old != new and not ended:
            found[packs.supplier].append(Moved(packs.supplier_name, packs.what, old, new))
    return found
