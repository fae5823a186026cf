"""What is on sale: products, suppliers, their packs and prices, as plain data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from service.pricing.commercial import Exchange

Attribute = str | float | tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PriceBreak:
    """The price of one pack from `min_packs` of the order on."""

    min_packs: int
    price: Decimal


@dataclass(frozen=True, slots=True)
class Product:
    id: str
    role: str
    name: str
    unit: str
    attributes: Mapping[str, Attribute]
    system: str | None = None
    weight_kg: Decimal | None = None  # of one unit


@dataclass(frozen=True, slots=True)
class Offer:
    """One supplier's price for one pack size of a product, from one price list.

    `split`: such packs are taken out of an opened larger one, for the supplier's split-pack surcharge.
    """

    supplier: str
    product: str
    pack_size: Decimal
    breaks: tuple[PriceBreak, ...]  # by min_packs ascending, the first from 1
    price_list: str
    split: bool = False


@dataclass(frozen=True, slots=True)
class Supplier:
    """Who sells, and what an order costs beside the goods.

    Delivery is charged once an order unless its goods reach `free_delivery_over`; freight by weight and
    carry-in are paid all the same. The split-pack surcharge is paid once for each product and pack size.
    No order may be under `minimum_order`, in goods.
    """

    id: str
    name: str
    delivery_charge: Decimal
    free_delivery_over: Decimal | None = None
    minimum_order: Decimal | None = None
    lead_time_days: int = 0  # calendar days from the order to the goods
    region: str | None = None  # where alone he delivers
    freight_per_kg: Decimal = Decimal(0)
    carry_in: Decimal = Decimal(0)  # an order
    split_pack_surcharge: Decimal = Decimal(0)
    restocking_percent: Decimal = Decimal(0)  # of the price of goods taken back


@dataclass(frozen=True, slots=True)
class PriceBook:
    """All that is on sale on one day, for the roles asked for."""

    price_date: date
    currency: str
    suppliers: tuple[Supplier, ...]
    products: tuple[Product, ...]
    offers: tuple[Offer, ...]
    exchanges: Mapping[str, Exchange] = field(default_factory=dict)  # by supplier of another currency
    unconverted: tuple[str, ...] = ()  # currencies of suppliers left out for want of a rate
