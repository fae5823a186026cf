"""What belongs to a revision of a quote: its lines and its options."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from sqlalchemy import ForeignKeyConstraint, Index, Integer, UniqueConstraint, text
from sqlalchemy.dialects.postgresql import ARRAY
from sqlalchemy.orm import Mapped, mapped_column

from service.store.models.base import (
    Base,
    Exact,
    OrgRow,
    one_of,
    within_org,
)


class QuoteLine(OrgRow, Base):
    """One line of a revision; `cost` per pack or hour, `amount` at cost, `price` what the customer pays."""

    __tablename__ = "quote_lines"
    __table_args__ = (
        ForeignKeyConstraint(
            ["org_id", "quote_id", "revision"],
            ["quote_revisions.org_id", "quote_revisions.quote_id", "quote_revisions.revision"],
        ),
        within_org("supplier_id", "suppliers"),
        within_org("product_id", "products"),
        within_org("price_list_id", "price_lists"),
        one_of("kind", "material", "labour", "delivery", "adjustment"),
        Index(None, "org_id", "product_id", "price_list_id"),
    )

    quote_id: Mapped[UUID] = mapped_column(primary_key=True)
    revision: Mapped[int] = mapped_column(primary_key=True)
    position: Mapped[int] = mapped_column(primary_key=True)
    kind: Mapped[str]
    role: Mapped[str]
    uplift_group: Mapped[str]
    description: Mapped[str]
    supplier_id: Mapped[UUID | None]
    supplier_name: Mapped[str | None]
    product_id: Mapped[UUID | None]
    price_list_id: Mapped[UUID | None]
    packs: Mapped[int | None]
    pack_size: Mapped[Exact | None]
    quantity: Mapped[Exact]
    unit: Mapped[str]
    cost: Mapped[Exact]
    price: Mapped[Exact]
    amount: Mapped[Exact]
    allowance: Mapped[bool] = mapped_column(server_default=text("false"))
    note: Mapped[str] = mapped_column(server_default="")
    rooms: Mapped[list[str]] = mapped_column(server_default=text("'{}'"))
    needs: Mapped[list[int]] = mapped_column(ARRAY(Integer()), server_default=text("'{}'"))
    cutting: Mapped[dict[str, Any] | None]
    exchange: Mapped[dict[str, Any] | None]


class QuoteOption(OrgRow, Base):
    """An alternative to a revision as asked for, taken off and priced; no figures where it is refused."""

    __tablename__ = "quote_options"
    __table_args__ = (
        ForeignKeyConstraint(
            ["org_id", "quote_id", "revision"],
            ["quote_revisions.org_id", "quote_revisions.quote_id", "quote_revisions.revision"],
        ),
        UniqueConstraint("org_id", "quote_id", "revision", "name"),
    )

    quote_id: Mapped[UUID] = mapped_column(primary_key=True)
    revision: Mapped[int] = mapped_column(primary_key=True)
    position: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str]
    request: Mapped[dict[str, Any]]
    takeoff: Mapped[dict[str, Any]]
    priced: Mapped[dict[str, Any]]
    net: Mapped[Exact | None]
    tax: Mapped[Exact | None]
    gross: Mapped[Exact | None]
