"""The lines of a quote at cost: material bought, stated allowances, delivery and labour."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from decimal import Decimal

from service.pricing.market import Purchase
from service.pricing.model import (
    Extra,
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

DAY_WORK = "day_work"
"""Role and group of lines of hours that a rate of the terms is charged for."""
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


Bought = tuple[Purchase, tuple[Need, ...]]
"""A purchase and the needs that it serves."""


def material_lines(bought: Iterable[Bought], rounding: Rounding) -> list[Line]:
    """One line for each product and pack size of each supplier."""
    return [line for purchase, needs in bought for line in _packs(purchase, needs, rounding)]


def _packs(purchase: Purchase, needs: Sequence[Need], rounding: Rounding) -> Iterator[Line]:
    rooms = tuple(dict.fromkeys(room for need in needs for room in need.rooms))
    places = tuple(place for need in needs for place in need.places)
    still_open = any(need.product is None and need.role in SEEN for need in needs)
    for offer, packs in purchase.bought:
        line = _pack_line(purchase, offer, packs, rounding)
        note = OPEN_CHOICE if still_open else _left_over(purchase, needs)
        yield replace(line, rooms=rooms, needs=places, allowance=still_open, note=note)


def _left_over(purchase: Purchase, needs: Sequence[Need]) -> str:
    """What packs that must not exceed what they go into leave of it."""
    wanted = sum((limit for need in needs for limit in need.limits), Decimal(0))
    rest = wanted - sum(packs * offer.pack_size for offer, packs in purchase.bought)
    unit = purchase.product.unit
    said = f"Never cut: {rest.normalize():f} {unit} of {wanted.normalize():f} {unit} are left without."
    return said if wanted else ""


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


def delivery_lines(bought: Sequence[Bought], book: PriceBook, rounding: Rounding) -> list[Line]:
    """What each supplier used charges beside the goods: delivery unless the order reaches the limit for free
    delivery, freight by weight, carry-in, and split packs."""
    orders: dict[str, list[Purchase]] = {}
    for purchase, _ in bought:
        orders.setdefault(purchase.supplier.id, []).append(purchase)
    used = [supplier for supplier in book.suppliers if supplier.id in orders]
    return [line for supplier in used for line in _charges(supplier, orders[supplier.id], rounding)]


def _charges(supplier: Supplier, order: Sequence[Purchase], rounding: Rounding) -> Iterator[Line]:
    goods = Decimal(sum(purchase.goods for purchase in order)).scaleb(-rounding.minor)
    split = sum(offer.split for purchase in order for offer, _ in purchase.bought)
    if not _free(supplier, goods):
        yield from _charge(supplier, "delivery by", supplier.delivery_charge, rounding)
    for purchase in order:
        yield from _freight(purchase, rounding)
    yield from _charge(supplier, "carrying in by", supplier.carry_in, rounding)
    for _ in range(split):
        yield from _charge(supplier, "split pack of", supplier.split_pack_surcharge, rounding)


def _free(supplier: Supplier, order: Decimal) -> bool:
    return supplier.free_delivery_over is not None and order >= supplier.free_delivery_over


def _charge(supplier: Supplier, what: str, charge: Decimal, rounding: Rounding) -> Iterator[Line]:
    if charge:
        text = f"{what} {supplier.name}"
        line = plain_line("delivery", "delivery", text, "order", Decimal(1), charge, rounding)
        yield replace(line, supplier=supplier.id, supplier_name=supplier.name)


def _freight(purchase: Purchase, rounding: Rounding) -> Iterator[Line]:
    """By the weight of each size bought, rounded as that line is."""
    product, supplier = purchase.product, purchase.supplier
    if not (supplier.freight_per_kg and product.weight_kg):
        return
    for offer, packs in purchase.bought:
        weight = packs * offer.pack_size * product.weight_kg
        what = f"freight of {product.name} by {supplier.name}"
        line = plain_line("delivery", "delivery", what, "kg", weight, supplier.freight_per_kg, rounding)
        yield replace(line, supplier=supplier.id, supplier_name=supplier.name)


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


def day_work_lines(extras: Iterable[Extra], hourly_cost: Decimal, rounding: Rounding) -> list[Line]:
    """One line for each piece of day work, at the cost of an hour; its note names the rate to charge."""
    return [
        replace(
            plain_line("labour", DAY_WORK, extra.what, "h", extra.hours, hourly_cost, rounding),
            group=DAY_WORK,
            note=extra.rate.name,
        )
        for extra in extras
    ]


def charge_note(hourly: Decimal) -> str:
    return f"Charged at {hourly.normalize():f} an hour."


def _words(name: str) -> str:
    return name.replace("_", " ")
