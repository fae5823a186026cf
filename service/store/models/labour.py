"""Labour tables with their rates, and what booked hours say of them."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlalchemy import Index, Numeric, UniqueConstraint, text
from sqlalchemy.orm import Mapped, mapped_column

from service.store.models.base import (
    Base,
    Changeable,
    Currency,
    Identified,
    OrgRow,
    UnitPrice,
    one_of,
    within_org,
)


class LabourTableRow(Identified, Changeable, Base):
    """A dated set of labour rates of a crew, with its price of an hour.

    `crew` is its size, `crew_name` None for the office's usual crew. With `hourly_charge` an hour is charged
    at that, else at its cost with the uplift of the terms.
    """

    __tablename__ = "labour_tables"
    __table_args__ = (UniqueConstraint("org_id", "name", "valid_from"),)

    name: Mapped[str]
    valid_from: Mapped[date]
    crew: Mapped[int]
    productive_hours_per_day: Mapped[Decimal] = mapped_column(Numeric(6, 3))
    minimum_hours: Mapped[Decimal] = mapped_column(Numeric(6, 3))
    hourly_cost: Mapped[UnitPrice]
    currency: Mapped[Currency]
    crew_name: Mapped[str | None]
    hourly_charge: Mapped[UnitPrice | None]


class LabourRateRow(OrgRow, Base):
    """Crew-member hours per unit of one activity."""

    __tablename__ = "labour_rates"
    __table_args__ = (within_org("labour_table_id", "labour_tables", ondelete="CASCADE"),)

    labour_table_id: Mapped[UUID] = mapped_column(primary_key=True)
    activity: Mapped[str] = mapped_column(primary_key=True)
    driver: Mapped[str]
    unit: Mapped[str]
    hours: Mapped[Decimal] = mapped_column(Numeric(12, 6))


class LabourCalibration(Identified, Changeable, Base):
    """Rates fitted to the `bookings` of finished jobs: a proposal, until it is made a labour table."""

    __tablename__ = "labour_calibrations"
    __table_args__ = (
        within_org("labour_table_id", "labour_tables"),
        within_org("accepted_table_id", "labour_tables"),
        one_of("state", "proposed", "accepted"),
        Index(None, "org_id", "created_at", "id"),
    )

    labour_table_id: Mapped[UUID]
    bookings: Mapped[dict[str, Any]]
    result: Mapped[dict[str, Any]]
    state: Mapped[str] = mapped_column(default="proposed", server_default=text("'proposed'"))
    accepted_table_id: Mapped[UUID | None]
    accepted_at: Mapped[datetime | None]
