"""Exchange rates and taxes: rows are only ever added, a later one corrects."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

from sqlalchemy import CheckConstraint, Index, Numeric
from sqlalchemy.dialects.postgresql import JSONB
from sqlalchemy.orm import Mapped, mapped_column

from service.store.models.base import Base, Currency, Identified


class ExchangeRate(Identified, Base):
    """What one unit of a currency is worth in another, from a day on."""

    __tablename__ = "exchange_rates"
    __table_args__ = (
        CheckConstraint("from_currency <> to_currency AND rate > 0", name="pair"),
        Index("exchange_rates_in_force_idx", "org_id", "to_currency", "from_currency", "valid_from"),
    )

    from_currency: Mapped[Currency]
    to_currency: Mapped[Currency]
    rate: Mapped[Decimal] = mapped_column(Numeric(20, 10))
    valid_from: Mapped[date]
    note: Mapped[str] = mapped_column(default="", server_default="")


class TaxRules(Identified, Base):
    """The taxes of a region from a day on; `rules` holds pricing's TaxRule, decimals as strings."""

    __tablename__ = "tax_rules"
    __table_args__ = (Index("tax_rules_in_force_idx", "org_id", "region", "valid_from"),)

    region: Mapped[str]
    valid_from: Mapped[date]
    rules: Mapped[list[dict[str, Any]]] = mapped_column(JSONB)
    note: Mapped[str] = mapped_column(default="", server_default="")
