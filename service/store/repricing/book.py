"""The price book of a run: what was on sale when it began, as pricing's plain data."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from typing import Any
from uuid import UUID

from sqlalchemy import RowMapping, text
from sqlalchemy.orm import Session

from service.pricing import model as pricing
from service.pricing.exchange import CHARGES
from service.store.prices import offers_of, products_by_ids
from service.store.session import org_of

OFFERS = text("""
SELECT p.supplier_id, p.product_id, p.pack_size, p.from_packs AS min_packs, p.price, p.price_list_id, p.split
FROM repricing_prices AS p JOIN products AS d ON d.org_id = p.org_id AND d.id = p.product_id
WHERE p.org_id = :org_id AND p.repricing_id = :run AND d.role = ANY(CAST(:roles AS text[]))
ORDER BY p.supplier_id, p.product_id, p.pack_size, p.from_packs
""")
SUPPLIERS = text("""
SELECT * FROM repricing_suppliers WHERE org_id = :org_id AND repricing_id = :run ORDER BY supplier_id
""")


def book_of(
    session: Session,
    run: UUID,
    day: date,
    currency: str,
    roles: Collection[str],
    chosen: Collection[UUID],
    exchange_of: Any,
) -> pricing.PriceBook:
    """All that was on sale for `roles`, and the products `chosen`, in the office's currency.

    `exchange_of` reads a rate as it is kept with a line.
    """
    key = {"org_id": org_of(session), "run": run, "roles": list(roles)}
    offers = session.execute(OFFERS, key).mappings().all()
    sellers = session.execute(SUPPLIERS, key).mappings().all()
    selling = {row["supplier_id"] for row in offers}
    products = products_by_ids(session, {*chosen, *(row["product_id"] for row in offers)})
    return pricing.PriceBook(
        price_date=day,
        currency=currency,
        suppliers=tuple(_supplier(row) for row in sellers if row["supplier_id"] in selling),
        products=tuple(products.values()),
        offers=offers_of(offers),
        exchanges={
            str(row["supplier_id"]): exchange_of(row["exchange"]) for row in sellers if row["exchange"]
        },
    )


def _supplier(row: RowMapping) -> pricing.Supplier:
    charges = {name: row[name] for name in CHARGES}
    return pricing.Supplier(
        id=str(row["supplier_id"]),
        name=row["name"],
        lead_time_days=row["lead_time_days"],
        region=row["region"],
        **charges,
    )
