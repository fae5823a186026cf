"""Labour tables: kept by the office, found by crew and day."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from service.quoting import catalogue
from service.quoting.catalogue import Kind, UnknownReference, Versions
from service.quoting.errors import Unready
from service.store import labour as store
from service.store import rows
from service.store.models import LabourRateRow, LabourTableRow
from service.takeoff.rates import LabourTable

LABOUR_TABLES = Kind("labour table", LabourTableRow)


def labour_table_for(session: Session, on: date, crew: str | None = None) -> LabourTable:
    """The rates of a crew on a day, None for the usual one; UnknownReference where the named one has none."""
    table = store.labour_table(session, on, crew)
    if table is not None:
        return table
    if crew is not None:
        raise UnknownReference("/crew", f"No labour table of this crew holds on {on.isoformat()}.")
    raise Unready(f"no labour rates hold on {on.isoformat()}; store a table with POST /v1/labour-rates")


def add_labour_table(
    session: Session, head: Mapping[str, Any], rates: Sequence[Mapping[str, Any]]
) -> LabourTableRow:
    table = catalogue.add(session, LABOUR_TABLES, head)
    _write_rates(session, table.id, rates)
    return table


def labour_table(session: Session, table_id: UUID) -> tuple[LabourTableRow, Sequence[LabourRateRow]]:
    """A labour table and its rates by activity."""
    table = catalogue.get(session, LABOUR_TABLES, table_id)
    return table, store.rates_of(session, table.id)


def replace_labour_table(
    session: Session,
    table_id: UUID,
    expected: Versions,
    head: Mapping[str, Any],
    rates: Sequence[Mapping[str, Any]],
) -> LabourTableRow:
    """The table with these rates and no others."""
    table = catalogue.replace(session, LABOUR_TABLES, table_id, expected, head)
    store.remove_rates(session, table_id)
    _write_rates(session, table_id, rates)
    return table


def _write_rates(session: Session, table_id: UUID, rates: Sequence[Mapping[str, Any]]) -> None:
    rows.add_all(session, LabourRateRow, ({"labour_table_id": table_id, **rate} for rate in rates))
