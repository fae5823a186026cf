"""The organisation, its keys, customers, commercial terms and stored answers."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlalchemy import CheckConstraint, Index, Numeric, UniqueConstraint, text
from sqlalchemy.orm import Mapped, mapped_column

from service.store.ids import new_id
from service.store.models.base import Base, Changeable, Currency, Identified, OrgRow, one_of


class Organisation(Changeable, Base):
    """A contractor's office. `value_overrides` are its own trade values, `letterhead` what it prints."""

    __tablename__ = "organisations"
    __table_args__ = (one_of("standards", "us", "uk", "de"),)

    org_id: Mapped[UUID] = mapped_column(primary_key=True, default=new_id)
    name: Mapped[str]
    currency: Mapped[Currency]
    standards: Mapped[str]
    time_zone: Mapped[str] = mapped_column(default="UTC", server_default="UTC")
    number_prefix: Mapped[str] = mapped_column(default="Q", server_default="Q")
    value_overrides: Mapped[dict[str, Any]] = mapped_column(default=dict, server_default=text("'{}'"))
    letterhead: Mapped[dict[str, Any]] = mapped_column(default=dict, server_default=text("'{}'"))
    price_jump_percent: Mapped[Decimal] = mapped_column(
        Numeric(9, 4), default=Decimal(40), server_default=text("40")
    )
    automatic_preview: Mapped[bool] = mapped_column(default=False, server_default=text("false"))
    created_at: Mapped[datetime] = mapped_column(server_default=text("now()"))


class ApiKey(Identified, Changeable, Base):
    """A key by its keyed hash; the key itself is never stored. `prefix` is what a person knows it by.

    A publishable key may be shown on web pages of its origins and opens nothing but ballparks. Its use is no
    change of a key; `requests_per_minute` stands in place of the service's own quota.
    """

    __tablename__ = "api_keys"
    __table_args__ = (
        UniqueConstraint("org_id", "key_hash"),
        Index("api_keys_key_hash_idx", "key_hash"),
        Index(
            "api_keys_origins_idx", "origins", postgresql_using="gin", postgresql_where=text("publishable")
        ),
        CheckConstraint(
            "NOT publishable OR (scopes = ARRAY['ballpark'] AND cardinality(origins) > 0)", name="publishable"
        ),
        CheckConstraint("requests_per_minute > 0", name="requests_per_minute"),
    )

    key_hash: Mapped[str]
    prefix: Mapped[str]
    name: Mapped[str]
    scopes: Mapped[list[str]]
    publishable: Mapped[bool] = mapped_column(default=False, server_default=text("false"))
    origins: Mapped[list[str]] = mapped_column(default=list, server_default=text("'{}'"))
    expires_at: Mapped[datetime | None]
    revoked_at: Mapped[datetime | None]
    last_used_at: Mapped[datetime | None]
    requests_per_minute: Mapped[int | None]


class Customer(Identified, Changeable, Base):
    """Who a quote is for: the only place that holds a person's data, so that it can be erased."""

    __tablename__ = "customers"
    __table_args__ = (
        Index(None, "org_id", "created_at", "id"),
        one_of("kind", "consumer", "business"),
        one_of("locale", "de", "en", "es", "fr"),
    )

    name: Mapped[str]
    email: Mapped[str | None]
    phone: Mapped[str | None]
    address: Mapped[dict[str, Any]] = mapped_column(default=dict, server_default=text("'{}'"))
    note: Mapped[str] = mapped_column(default="", server_default="")
    kind: Mapped[str] = mapped_column(default="consumer", server_default="consumer")
    locale: Mapped[str | None]
    tax_number: Mapped[str | None]
    erased_at: Mapped[datetime | None]


class TermsRow(Identified, Changeable, Base):
    """Commercial terms; `body` holds pricing's Terms without id and name, decimals as strings."""

    __tablename__ = "terms"
    __table_args__ = (
        UniqueConstraint("org_id", "name"),
        Index("terms_one_default_idx", "org_id", unique=True, postgresql_where=text("is_default")),
    )

    name: Mapped[str]
    is_default: Mapped[bool] = mapped_column(default=False, server_default=text("false"))
    body: Mapped[dict[str, Any]]


class IdempotencyKey(OrgRow, Base):
    """The answer that was given to a request with this key, to be given again until it expires."""

    __tablename__ = "idempotency_keys"
    __table_args__ = (Index("idempotency_keys_expires_at_idx", "expires_at"),)

    key: Mapped[str] = mapped_column(primary_key=True)
    fingerprint: Mapped[str]
    status: Mapped[int]
    headers: Mapped[dict[str, Any]]
    body: Mapped[bytes]
    expires_at: Mapped[datetime]
