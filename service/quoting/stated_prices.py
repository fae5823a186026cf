"""The price of a pack from what a supplier states: list price per pack, unit or m2, less a percentage."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from service.quoting.catalogue import UnknownReference
from service.store.models import PriceList, ProductRow
from service.store.price_lists import NewPrice

HUNDREDTH = Decimal("0.01")
MM2_TO_M2 = Decimal("0.000001")
PLACES = Decimal("0.0001")
KEPT = ("product_id", "pack_size", "min_packs", "split", "supplier_code")


def new_price(price: Mapping[str, Any], product: ProductRow, price_list: PriceList, pointer: str) -> NewPrice:
    """The price as stored, exact; UnknownReference under `pointer` where it cannot be worked out."""
    kept = {name: price[name] for name in KEPT}
    if price["list_price"] is None:
        return NewPrice(**kept, price=price["price"])
    percent, source = _percent(price, price_list, pointer)
    units = _units(price, product, pointer)
    net = price["list_price"] * units * (100 - percent) * HUNDREDTH
    if price["price"] is not None and price["price"] != net:
        raise UnknownReference(f"{pointer}/price", f"List price less percent makes {net.normalize():f}.")
    return NewPrice(
        **kept,
        price=net.normalize(),
        list_price=price["list_price"],
        per=price["per"],
        priced_units=units,
        percent=percent,
        percent_from=source,
        discount_group=price["discount_group"],
    )


def _percent(price: Mapping[str, Any], head: PriceList, pointer: str) -> tuple[Decimal, str | None]:
    """The price's own percentage, else its group's, else the list's."""
    group = price["discount_group"]
    if price["percent"] is not None:
        return price["percent"], "item"
    if group is not None and head.discounts:
        if group not in head.discounts:
            raise UnknownReference(f"{pointer}/discount_group", "The list's discounts have no such group.")
        return Decimal(head.discounts[group]), "group"
    return (Decimal(0), None) if head.list_percent is None else (head.list_percent, "list")


def _units(price: Mapping[str, Any], product: ProductRow, pointer: str) -> Decimal:
    """How often a pack holds what the list price is for."""
    if price["per"] == "pack":
        return Decimal(1)
    pack: Decimal = price["pack_size"]
    if price["per"] == "unit" or (product.unit == "m2" and price["m2_per_pack"] is None):
        return pack
    area = price["m2_per_pack"] or _tile_area(product) * pack
    if not area:
        raise UnknownReference(f"{pointer}/m2_per_pack", "What a pack covers is not known.")
    return area.quantize(PLACES)


def _tile_area(product: ProductRow) -> Decimal:
    sides = [product.attributes.get(name) for name in ("length_mm", "width_mm")]
    if not all(isinstance(side, int | float) for side in sides):
        return Decimal(0)
    return Decimal(str(sides[0])) * Decimal(str(sides[1])) * MM2_TO_M2
