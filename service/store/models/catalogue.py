"""Suppliers, products, price lists and labour tables."""

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
    Identified,
    OrgRow,
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
    archived_at: Mapped[datetime | None]


class ProductRow(Identified, Changeable, Base):
    """A product: the role that it plays, what it states to be fit for, and the system that it belongs to."""

    __tablename__ = "products"
    __table_args__ = (UniqueConstraint("org_id", "name"), Index(None, "org_id", "role"))

    role: Mapped[str]
    name: Mapped[str]
    code: Mapped[str | None]
    unit: Mapped[str]
    system: Mapped[str | None]
    attributes: Mapped[dict[str, Any]] = mapped_column(default=dict, server_default=text("'{}'"))
    weight_kg: Mapped[Decimal | None] = mapped_column(Numeric(12, 4))
    archived_at: Mapped[datetime | None]


class PriceList(Identified, Changeable, Base):
    """One supplier's prices from a day on. Written as a draft, activated, never edited after."""

    __tablename__ = "price_lists"
    __table_args__ = (
        within_org("supplier_id", "suppliers"),
        one_of("kind", "regular", "promotion", "job_offer"),
        one_of("state", "draft", "active", "withdrawn"),
        CheckConstraint("valid_until >= valid_from", name="period"),
        Index(
            "price_lists_one_active_idx",
            "org_id",
            "supplier_id",
            "kind",
            "valid_from",
            unique=True,
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


class PriceItem(Identified, Base):
    """The price of one pack of `pack_size` units, from `min_packs` packs of an order on."""

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
        CheckConstraint("pack_size > 0 AND min_packs >= 1 AND price >= 0", name="figures"),
        Index(None, "org_id", "product_id"),
    )

    price_list_id: Mapped[UUID]
    product_id: Mapped[UUID]
    pack_size: Mapped[Quantity]
    min_packs: Mapped[int] = mapped_column(default=1, server_default=text("1"))
    price: Mapped[UnitPrice]


class LabourTableRow(Identified, Changeable, Base):
    """A dated set of labour rates, with its crew and its price of an hour."""

    __tablename__ = "labour_tables"
    __table_args__ = (UniqueConstraint("org_id", "name", "valid_from"),)

    name: Mapped[str]
    valid_from: Mapped[date]
    crew: Mapped[int]
    productive_hours_per_day: Mapped[Decimal] = mapped_column(Numeric(6, 3))
    minimum_hours: Mapped[Decimal] = mapped_column(Numeric(6, 3))
    hourly_cost: Mapped[UnitPrice]
    currency: Mapped[Currency]


class LabourRateRow(OrgRow, Base):
    """Crew-member hours per unit of one activity."""

    __tablename__ = "labour_rates"
    __table_args__ = (within_org("labour_table_id", "labour_tables", ondelete="CASCADE"),)

    labour_table_id: Mapped[UUID] = mapped_column(primary_key=True)
    activity: Mapped[str] = mapped_column(primary_key=True)
    driver: Mapped[str]
    unit: Mapped[str]
    hours: Mapped[Decimal] = mapped_column(Numeric(12, 6))
