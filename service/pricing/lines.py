"""The lines of a quote at cost: material bought, stated allowances, delivery and labour."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from decimal import Decimal

from service.pricing.choose import Chosen
from service.pricing.cut_to_length import lengths_of
from service.pricing.market import Market, Purchase
from service.pricing.model import (
    Gap,
    Hours,
    Line,
    LineKind,
    Need,
    Offer,
    PriceBook,
    Rounding,
    Supplier,
    Terms,
)
from service.pricing.money import to_minor
from service.pricing.packs import pack_price
from service.pricing.terms import SEEN, STATED_ONLY, allowance_for, group_of

OPEN_CHOICE = "The product is not chosen yet: this price is an allowance."


def plain_line(
    kind: LineKind,
    role: str,
    description: str,
    unit: str,
    quantity: Decimal,
    cost: Decimal,
    rounding: Rounding,
) -> Line:
    """A line at cost: the quantity at the cost of one, in whole minor units, bought from nobody yet."""
    amount = to_minor(quantity * cost, rounding)
    return Line(
        kind=kind,
        role=role,
        description=description,
        group="labour" if kind == "labour" else group_of(role),
        unit=unit,
        quantity=quantity,
        supplier=None,
        product=None,
        packs=None,
        pack_size=None,
        cost=cost,
        price=amount,
        amount=amount,
    )


def allowance_line(need: Need, terms: Terms) -> Line | Gap | None:
    """A stated price where a role the customer sees has no product; None where the need is to be bought."""
    if need.product is not None or need.role not in SEEN:
        return None
    stated = allowance_for(need, terms)
    if stated is None:
        what = f"{need.role} has no product, and the terms state no allowance that counts it"
        return Gap(need.role, "no_allowance", what) if need.role in STATED_ONLY else None
    allowance, counted = stated
    what = f"{_words(need.role)}, allowance per {allowance.unit}"
    line = plain_line("material", need.role, what, allowance.unit, counted, allowance.price, terms.rounding)
    return replace(line, allowance=True, note=OPEN_CHOICE, rooms=need.rooms, needs=need.places)


def material_lines(chosen: Sequence[Chosen], market: Market, rounding: Rounding) -> list[Line]:
    """One line for each product and pack size; needs of one product are added up before they are packed."""
    by_product: dict[str, list[Chosen]] = {}
    for one in chosen:
        by_product.setdefault(one.product.id, []).append(one)
    return [line for group in by_product.values() for line in _bought(group, market, rounding)]


def _bought(group: Sequence[Chosen], market: Market, rounding: Rounding) -> Iterator[Line]:
    needed = sum((one.need.quantity for one in group), Decimal(0))
    rooms = tuple(dict.fromkeys(room for one in group for room in one.need.rooms))
    places = tuple(place for one in group for place in one.need.places)
    still_open = any(one.need.product is None and one.need.role in SEEN for one in group)
    lengths = lengths_of([one.need for one in group])
    purchase = market.cheapest(group[0].product, needed, lengths)
    for offer, packs in zip(purchase.offers, purchase.mix.counts, strict=True):
        if packs:
            line = _pack_line(purchase, offer, packs, rounding)
            note = OPEN_CHOICE if still_open else ""
            yield replace(line, rooms=rooms, needs=places, allowance=still_open, note=note)


def _pack_line(purchase: Purchase, offer: Offer, packs: int, rounding: Rounding) -> Line:
    """Packs of one size: the cost is that of a pack, the quantity what is in all of them."""
    product, supplier = purchase.product, purchase.supplier
    cost = pack_price(offer, packs)
    line = plain_line("material", product.role, product.name, product.unit, Decimal(packs), cost, rounding)
    return replace(
        line,
        quantity=packs * offer.pack_size,
        supplier=supplier.id,
        supplier_name=supplier.name,
        product=product.id,
        packs=packs,
        pack_size=offer.pack_size,
        price_list=offer.price_list,
        cutting=purchase.cutting,
    )


def delivery_lines(material: Iterable[Line], book: PriceBook, rounding: Rounding) -> list[Line]:
    """A charge for each supplier used, unless the order at cost reaches the limit for free delivery."""
    orders: dict[str, Decimal] = {}
    for line in material:
        if line.supplier is not None:
            orders[line.supplier] = orders.get(line.supplier, Decimal(0)) + line.amount
    used = [supplier for supplier in book.suppliers if supplier.id in orders]
    return [_delivery(s, rounding) for s in used if s.delivery_charge and not _free(s, orders[s.id])]


def _free(supplier: Supplier, order: Decimal) -> bool:
    return supplier.free_delivery_over is not None and order >= supplier.free_delivery_over


def _delivery(supplier: Supplier, rounding: Rounding) -> Line:
    what = f"delivery by {supplier.name}"
    line = plain_line("delivery", "delivery", what, "order", Decimal(1), supplier.delivery_charge, rounding)
    return replace(line, supplier=supplier.id, supplier_name=supplier.name)


def labour_lines(hours: Iterable[Hours], hourly_cost: Decimal, rounding: Rounding) -> list[Line]:
    """One line for each activity: its hours at the cost of an hour."""
    by_activity: dict[str, Decimal] = {}
    for work in hours:
        by_activity[work.activity] = by_activity.get(work.activity, Decimal(0)) + work.hours
    return [
        plain_line("labour", activity, _words(activity), "h", time, hourly_cost, rounding)
        for activity, time in by_activity.items()
        if time
    ]


def _words(name: str) -> str:
    return name.replace("_", " ")
