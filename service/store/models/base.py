"""What all stored rows share: naming, column types, the organisation as the first part of every key."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from typing import Annotated, Any
from uuid import UUID

from sqlalchemy import CHAR, CheckConstraint, ForeignKey, ForeignKeyConstraint, MetaData, Numeric, text
from sqlalchemy.dialects.postgresql import ARRAY, JSONB, TIMESTAMP
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column
from sqlalchemy.types import Date, Text, Uuid

from service.store.ids import new_id

NAMES = {  # as PostgreSQL itself names them
    "pk": "%(table_name)s_pkey",
    "fk": "%(table_name)s_%(column_0_N_name)s_fkey",
    "uq": "%(table_name)s_%(column_0_N_name)s_key",
    "ix": "%(table_name)s_%(column_0_N_name)s_idx",
    "ck": "%(table_name)s_%(constraint_name)s_check",
}

UnitPrice = Annotated[Decimal, mapped_column(Numeric(14, 4))]
"""Price of one pack or hour, in the currency beside it."""
Exact = Annotated[Decimal, mapped_column(Numeric())]
"""A decimal kept with as many decimals as it was reckoned with."""
Percent = Annotated[Decimal, mapped_column(Numeric(7, 4))]
"""A percentage, 12.5 for 12.5 %."""
Quantity = Annotated[Decimal, mapped_column(Numeric(14, 4))]
"""A quantity in the unit beside it."""
Currency = Annotated[str, mapped_column(CHAR(3))]
"""ISO 4217 code."""
Json = dict[str, Any]


class Base(DeclarativeBase):
    metadata = MetaData(naming_convention=NAMES)
    type_annotation_map = {  # noqa: RUF012
        UUID: Uuid(),
        str: Text(),
        list[str]: ARRAY(Text()),
        date: Date(),
        datetime: TIMESTAMP(timezone=True),
        dict[str, Any]: JSONB(),
        list[Any]: JSONB(),
    }


class OrgRow:
    """A row of one organisation; `org_id` leads its primary key."""

    org_id: Mapped[UUID] = mapped_column(ForeignKey("organisations.org_id"), primary_key=True, sort_order=-2)
    created_at: Mapped[datetime] = mapped_column(server_default=text("now()"))


class Identified(OrgRow):
    """A row with an id made in the application."""

    id: Mapped[UUID] = mapped_column(primary_key=True, default=new_id, sort_order=-1)


class Changeable:
    """A row that callers may change; `version` counts its states, from 1."""

    version: Mapped[int] = mapped_column(default=1, server_default=text("1"))


def within_org(column: str, table: str, **options: Any) -> ForeignKeyConstraint:
    """A foreign key to a row of the same organisation."""
    return ForeignKeyConstraint(["org_id", column], [f"{table}.org_id", f"{table}.id"], **options)


def one_of(column: str, *words: str) -> CheckConstraint:
    """A column that holds one of some words."""
    listed = ", ".join(f"'{word}'" for word in words)
    return CheckConstraint(f"{column} IN ({listed})", name=column)
