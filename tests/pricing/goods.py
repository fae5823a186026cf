"""Short builders of invented goods for the pricing tests."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from service.pricing.model import Attribute, Condition, Need, Offer, PriceBook, PriceBreak, Product, Supplier

D = Decimal


def need(role: str, quantity: str, unit: str = "kg", **extra: object) -> Need:
    return Need(role, unit, D(quantity), **extra)  # type: ignore[arg-type]


def words(attribute: str, *wanted: str) -> Condition:
    return Condition(attribute, one_of=wanted)


def product(
    id_: str, role: str, unit: str = "kg", system: str | None = None, **attributes: Attribute
) -> Product:
    return Product(id_, role, f"invented {id_}", unit, attributes, system)


def offer(product_id: str, size: str, *prices: str, supplier: str = "north") -> Offer:
    """Prices as "24.90" from the first pack on, or "21.50@8" from the eighth."""
    split = [price.partition("@") for price in prices]
    breaks = tuple(PriceBreak(int(start or 1), D(price)) for price, _, start in split)
    return Offer(supplier, product_id, D(size), breaks, "list-1")


def supplier(id_: str, charge: str = "0", free_over: str | None = None) -> Supplier:
    return Supplier(id_, f"invented {id_}", D(charge), None if free_over is None else D(free_over))


def book(products: list[Product], offers: list[Offer], *suppliers: Supplier) -> PriceBook:
    sellers = suppliers or tuple(supplier(id_) for id_ in sorted({o.supplier for o in offers}))
    return PriceBook(date(2026, 3, 2), "EUR", sellers, tuple(products), tuple(offers))
