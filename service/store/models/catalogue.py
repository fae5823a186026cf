"""Suppliers, products and price lists."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlalchemy import CheckConstraint, Index, Numeric, UniqueConstraint, text
from sqlalchemy.orm import Mapped, mapped_column

from service.store.models.base import (
    Base,
    Changeable,
    Currency,
    Exact,
    Identified,
    Percent,
    Quantity,
    UnitPrice,
    one_of,
    within_org,
)


class Supplier(Identified, Changeable, Base):
    __tablename__ = "suppliers"
    __table_args__ = (UniqueConstraint("org_id", "name"),)

    name: Mapped[str]
    currency: Mapped[Currency]
    delivery_charge: Mapped[UnitPrice] = mapped_column(default=Decimal(0), server_default=text("0"))
    free_delivery_over: Mapped[UnitPrice | None]
    minimum_order: Mapped[UnitPrice | None]
    lead_time_days: Mapped[int] = mapped_column(default=0, server_default=text("0"))
    region: Mapped[str | None]
    freight_per_kg: Mapped[UnitPrice] = mapped_column(default=Decimal(0), server_default=text("0"))
    carry_in: Mapped[UnitPrice] = mapped_column(default=Decimal(0), server_default=text("0"))
    split_pack_surcharge: Mapped[UnitPrice] = mapped_column(default=Decimal(0), server_default=text("0"))
    restocking_percent: Mapped[Percent] = mapped_column(default=Decimal(0), server_default=text("0"))
    archived_at: Mapped[datetime | None]


class ProductRow(Identified, Changeable, Base):
    """A product: the role that it plays, what it states to be fit for, and the system that it belongs to.

    `pack_content` is what a pack holds, in the unit; `weight_kg` is that of one unit.
    """

    __tablename__ = "products"
    __table_args__ = (
        UniqueConstraint("org_id", "name"),
        Index(None, "org_id", "role"),
        Index(None, "org_id", "code"),
    )

    role: Mapped[str]
    name: Mapped[str]
    code: Mapped[str | None]
    unit: Mapped[str]
    system: Mapped[str | None]
    attributes: Mapped[dict[str, Any]] = mapped_column(default=dict, server_default=text("'{}'"))
    weight_kg: Mapped[Decimal | None] = mapped_column(Numeric(12, 4))
    pack_content: Mapped[Quantity | None]
    archived_at: Mapped[datetime | None]


class PriceList(Identified, Changeable, Base):
    """One supplier's prices from a day on. Written as a draft, activated, never edited after.

    It holds from `holds_from` on, or from its first day where that is null, until it ends or is withdrawn;
    for days before `activated_at` only as they are known since.
    An item's percent off the list price is its own, else its group's in `discounts`, else `list_percent`.
    `rejected_rows` counts the rows of its last import that were left out.
    """

    __tablename__ = "price_lists"
    __table_args__ = (
        within_org("supplier_id", "suppliers"),
        one_of("kind", "regular", "promotion", "job_offer"),
        one_of("state", "draft", "active", "withdrawn"),
        CheckConstraint("valid_until >= valid_from", name="period"),
        CheckConstraint(
            "(kind = 'job_offer') = (reference IS NOT NULL)"
            " AND (kind <> 'job_offer' OR valid_until IS NOT NULL)",
            name="job_offer",
        ),
        Index(
            "price_lists_one_active_idx",
            "org_id",
            "supplier_id",
            "kind",
            "valid_from",
            "reference",
            unique=True,
            postgresql_nulls_not_distinct=True,
            postgresql_where=text("state = 'active'"),
        ),
    )

    supplier_id: Mapped[UUID]
    name: Mapped[str]
    kind: Mapped[str] = mapped_column(default="regular", server_default="regular")
    priority: Mapped[int] = mapped_column(default=0, server_default=text("0"))
    valid_from: Mapped[date]
    valid_until: Mapped[date | None]
    state: Mapped[str] = mapped_column(default="draft", server_default="draft")
    activated_at: Mapped[datetime | None]
    reference: Mapped[str | None]
    list_percent: Mapped[Percent | None]
    discounts: Mapped[dict[str, Any]] = mapped_column(default=dict, server_default=text("'{}'"))
    holds_from: Mapped[datetime | None]
    withdrawn_at: Mapped[datetime | None]
    rejected_rows: Mapped[int] = mapped_column(default=0, server_default=text("0"))


class PriceItem(Identified, Base):
    """The price of one pack of `pack_size` units, from `min_packs` packs of an order on.

    Where the supplier states a list price, the price is list price x `priced_units` (1 per pack, else what
    of the stated unit is in a pack) less `percent`, exactly; the database holds the two together.
    `supplier_code` is the supplier's own for the article. The organisation is that of the list.
    """

    __tablename__ = "price_items"
    __table_args__ = (
        within_org("price_list_id", "price_lists", ondelete="CASCADE"),
        within_org("product_id", "products"),
        UniqueConstraint(
            "org_id",
            "price_list_id",
            "product_id",
            "pack_size",
            "min_packs",
            name="price_items_one_price_key",
        ),
        CheckConstraint(
            "pack_size > 0 AND min_packs >= 1 AND price >= 0 AND price < 1e10 AND scale(price) <= 14"
            " AND list_price >= 0 AND priced_units > 0 AND percent BETWEEN 0 AND 100",
            name="figures",
        ),
        CheckConstraint("price = list_price * priced_units * (100 - percent) * 0.01", name="sum"),
        one_of("per", "pack", "unit", "m2"),
        one_of("percent_from", "item", "group", "list"),
        Index(None, "org_id", "product_id"),
        Index(None, "org_id", "supplier_code", postgresql_where=text("supplier_code IS NOT NULL")),
    )

    org_id: Mapped[UUID] = mapped_column(primary_key=True, sort_order=-2)
    price_list_id: Mapped[UUID]
    product_id: Mapped[UUID]
    pack_size: Mapped[Quantity]
    min_packs: Mapped[int] = mapped_column(default=1, server_default=text("1"))
    price: Mapped[Exact]
    list_price: Mapped[UnitPrice | None]
    per: Mapped[str] = mapped_column(default="pack", server_default="pack")
    priced_units: Mapped[Quantity] = mapped_column(default=Decimal(1), server_default=text("1"))
    percent: Mapped[Percent] = mapped_column(default=Decimal(0), server_default=text("0"))
    percent_from: Mapped[str | None]
    discount_group: Mapped[str | None]
    split: Mapped[bool] = mapped_column(default=False, server_default=text("false"))
    supplier_code: Mapped[str | None]


class Agreement(Identified, Changeable, Base):
    """What a supplier grants this office on its regular lists, for a product or a role. It only ends."""

    __tablename__ = "agreements"
    __table_args__ = (
        within_org("supplier_id", "suppliers"),
        within_org("product_id", "products"),
        CheckConstraint("num_nonnulls(product_id, role) = 1", name="subject"),
        CheckConstraint(
            "num_nonnulls(percent, price) = 1 AND (price IS NULL) = (pack_size IS NULL)"
            " AND (price IS NULL OR product_id IS NOT NULL)"
            " AND percent BETWEEN 0 AND 100 AND price >= 0 AND pack_size > 0",
            name="figures",
        ),
        CheckConstraint("valid_until >= valid_from", name="period"),
        Index(None, "org_id", "supplier_id"),
    )

    supplier_id: Mapped[UUID]
    name: Mapped[str]
    product_id: Mapped[UUID | None]
    role: Mapped[str | None]
    percent: Mapped[Percent | None]
    price: Mapped[UnitPrice | None]
    pack_size: Mapped[Quantity | None]
    valid_from: Mapped[date]
    valid_until: Mapped[date | None]
