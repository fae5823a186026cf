"""Labour tables, as the plain data that the take-off works with."""

from __future__ import annotations

from datetime import date
from typing import cast
from uuid import UUID

from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from service.store.models import LabourRateRow, LabourTableRow
from service.store.session import org_of
from service.takeoff.answer import Driver
from service.takeoff.rates import LabourRate, LabourTable


def labour_table(session: Session, on: date, crew: str | None = None) -> LabourTable | None:
    """A crew's labour table in force on a day; None where none has begun."""
    row = labour_row(session, on, crew)
    return None if row is None else labour_table_of(session, row)


def labour_row(session: Session, on: date, crew: str | None = None) -> LabourTableRow | None:
    """The table of the crew of this name (None: the usual one) that began last; of one day the newest."""
    query = select(LabourTableRow).where(
        LabourTableRow.org_id == org_of(session),
        LabourTableRow.valid_from <= on,
        LabourTableRow.crew_name.is_not_distinct_from(crew),
    )
    newest = query.order_by(LabourTableRow.valid_from.desc(), LabourTableRow.created_at.desc()).limit(1)
    return session.scalars(newest).one_or_none()


def labour_table_of(session: Session, row: LabourTableRow) -> LabourTable:
    """A stored labour table with its rates, by activity."""
    return LabourTable(
        id=str(row.id),
        name=row.name,
        rates=tuple(_rate(rate) for rate in rates_of(session, row.id)),
        crew=row.crew,
        productive_hours_per_day=float(row.productive_hours_per_day),
        minimum_hours=float(row.minimum_hours),
        hourly_cost=row.hourly_cost,
        currency=row.currency,
        crew_name=row.crew_name,
        hourly_charge=row.hourly_charge,
    )


def rates_of(session: Session, table_id: UUID) -> list[LabourRateRow]:
    query = select(LabourRateRow).where(
        LabourRateRow.org_id == org_of(session), LabourRateRow.labour_table_id == table_id
    )
    return list(session.scalars(query.order_by(LabourRateRow.activity)))


def remove_rates(session: Session, table_id: UUID) -> None:
    """Take a table's rates away, in one statement."""
    session.execute(
        delete(LabourRateRow).where(
            LabourRateRow.org_id == org_of(session), LabourRateRow.labour_table_id == table_id
        )
    )


def _rate(row: LabourRateRow) -> LabourRate:
    return LabourRate(row.activity, cast(Driver, row.driver), row.unit, float(row.hours))
