"""Commercial terms and labour tables, as the plain data that pricing and the take-off work with."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any, cast
from uuid import UUID

from cattrs import Converter
from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from service.pricing.model import Terms
from service.store import rows
from service.store.models import LabourRateRow, LabourTableRow, TermsRow
from service.store.session import org_of
from service.takeoff.answer import Driver
from service.takeoff.rates import LabourRate, LabourTable

_plain = Converter(forbid_extra_keys=True)
_plain.register_unstructure_hook(Decimal, str)
_plain.register_structure_hook(Decimal, lambda value, _: Decimal(str(value)))


def terms_body(terms: Terms) -> dict[str, Any]:
    """What the column `body` keeps of terms: all but id and name, decimals as strings."""
    body: dict[str, Any] = _plain.unstructure(terms)
    return {name: value for name, value in body.items() if name not in {"id", "name"}}


def terms_of(row: TermsRow) -> Terms:
    """Stored terms as pricing sees them; an error names a field that terms do not have."""
    return _plain.structure({"id": str(row.id), "name": row.name, **row.body}, Terms)


def default_terms(session: Session) -> Terms | None:
    """The organisation's default terms, or None where it has not set any."""
    query = select(TermsRow).where(TermsRow.org_id == org_of(session), TermsRow.is_default)
    row = session.scalars(query).one_or_none()
    return None if row is None else terms_of(row)


def terms_by_id(session: Session, terms_id: UUID) -> Terms | None:
    row = rows.find(session, TermsRow, terms_id)
    return None if row is None else terms_of(row)


def labour_table(session: Session, on: date) -> LabourTable | None:
    """The labour table in force on a day: the one that began last; None where none has begun."""
    query = select(LabourTableRow).where(
        LabourTableRow.org_id == org_of(session), LabourTableRow.valid_from <= on
    )
    newest = query.order_by(LabourTableRow.valid_from.desc(), LabourTableRow.created_at.desc()).limit(1)
    row = session.scalars(newest).one_or_none()
    return None if row is None else labour_table_of(session, row)


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
