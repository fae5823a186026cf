"""Seed the invented organisation by the same use cases that the API calls."""

from __future__ import annotations

import secrets
import tomllib
from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from importlib import resources
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from service.pricing.model import TaxRule
from service.quoting import catalogue, office, price_lists
from service.quoting.ballparks.pack import unpacked
from service.quoting.catalogue import PRODUCTS, SUPPLIERS
from service.quoting.exchange import add_rate
from service.quoting.opening import add_opening_rates
from service.quoting.taxes import add_taxes
from service.settings import Settings
from service.store import ballparks as ballpark_store
from service.store import keys as key_store
from service.store import rows
from service.store.engine import make_engine
from service.store.models import Organisation, ProductRow
from service.store.session import transaction

ORGANISATION = UUID("018f0000-0000-7000-8000-000000000001")
BEGINS = date(2026, 1, 1)
SCOPES = ("quotes", "prices", "reprice", "ballpark", "admin")


def seed(settings: Settings, key: str | None = None) -> str:
    """Make the organisation unless it is there, and let `key` (or a new one) open it; returns the key."""
    key = key or f"key_{secrets.token_urlsafe(32)}"
    engine = make_engine(settings.database_url or "")
    try:
        with transaction(engine, ORGANISATION) as session:
            if session.get(Organisation, ORGANISATION) is None:
                _make_organisation(session)
            if key_store.key_in_force(session, key, settings.key_pepper) is None:
                key_store.add_key(session, key, settings.key_pepper, "demo", SCOPES)
    finally:
        engine.dispose()
    return key


def product_ids(session: Session) -> dict[str, str]:
    """The ids of the demo's products by their codes."""
    products = rows.page(session, ProductRow, len(table("price_table.toml")["product"]))
    return {row.code: str(row.id) for row in products if row.code}


def table(name: str) -> dict[str, Any]:
    return tomllib.loads((resources.files("service.demo") / name).read_text("utf-8"))


def _make_organisation(session: Session) -> None:
    data = table("price_table.toml")
    session.add(Organisation(org_id=ORGANISATION, **data["organisation"]))
    session.flush()
    currency = data["organisation"]["currency"]
    products = {product["key"]: _add_product(session, product) for product in data["product"]}
    for supplier in data["supplier"]:
        _add_supplier(session, supplier, data["product"], products, currency)
    add_opening_rates(session, data["organisation"]["standards"], currency, BEGINS)
    terms = table("terms.toml")
    office.add_terms(session, terms.pop("name"), is_default=True, body=terms)
    _add_money(session, currency)
    _add_ballparks(session, currency)


def _add_product(session: Session, product: Mapping[str, Any]) -> UUID:
    kept = ("role", "name", "unit", "attributes")
    values = {
        **{name: product[name] for name in kept},
        "system": product.get("system"),
        "code": product["key"],
    }
    return catalogue.add(session, PRODUCTS, values).id


def _add_supplier(
    session: Session,
    supplier: Mapping[str, Any],
    products: Sequence[Mapping[str, Any]],
    ids: Mapping[str, UUID],
    currency: str,
) -> None:
    values = {name: value for name, value in supplier.items() if name != "key"}
    row = catalogue.add(session, SUPPLIERS, {**values, "currency": currency})
    head = {"supplier_id": row.id, "name": f"Prices from {BEGINS.isoformat()}", "valid_from": BEGINS}
    price_list = price_lists.add(session, head)
    prices = [
        {"product_id": ids[product["key"]], "supplier_code": f"{supplier['key']}-{number}", **price}
        for number, product in enumerate(products, start=1001)
        for offer in product["offers"]
        if offer[0] == supplier["key"]
        for price in _prices(offer)
    ]
    price_lists.replace_items(session, price_list.id, None, prices)
    price_lists.activate(session, price_list.id, None)


def _prices(offer: Sequence[Any]) -> list[dict[str, Any]]:
    """The prices of one pack size: from one pack on, then each break."""
    _, pack_size, price, *breaks = offer
    return [
        {"pack_size": Decimal(str(pack_size)), "min_packs": min_packs, "price": Decimal(cost)}
        for min_packs, cost in ([1, price], *breaks)
    ]


def _add_ballparks(session: Session, currency: str) -> None:
    """The models fitted to the invented prices (`python -m service ballparks fit`), so that the demo
    answers at once; the worker fits them anew when prices, rates or terms change."""
    kept = (resources.files("service.demo") / "ballparks.npz").read_bytes()
    models, basis = unpacked(kept)
    ballpark_store.replace_models(session, models, BEGINS, currency, basis)


def _add_money(session: Session, currency: str) -> None:
    """Taxes of invented regions and an invented rate: figures that the office itself would keep."""
    data = table("money.toml")
    for taxes in data["taxes"]:
        rules = [TaxRule(**{**rule, "percent": Decimal(rule["percent"])}) for rule in taxes["rules"]]
        add_taxes(session, taxes["region"], taxes["valid_from"], rules, data["note"])
    for rate in data["rate"]:
        stated = {"from_currency": rate["from_currency"], "rate": Decimal(rate["rate"])}
        dated = {"valid_from": rate["valid_from"], "note": data["note"]}
        add_rate(session, {**stated, **dated, "to_currency": currency})
