"""Rates fitted to booked hours: proposed, read, and made a labour table once somebody accepts them."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from service.calibration import Calibration, Criteria, calibrate
from service.quoting import catalogue, office
from service.quoting.catalogue import Kind, UnknownReference, Versions
from service.quoting.errors import Conflict, NotFound
from service.quoting.labour import finished, tables
from service.quoting.labour.finished import FinishedJob
from service.quoting.snapshot import to_json
from service.store.models import LabourCalibration, LabourRateRow, LabourTableRow
from service.trade.values import TradeValues

CALIBRATIONS = Kind("calibration", LabourCalibration)
MOVED = ("fitted", "together")
RATE_STEP = Decimal("0.000001")
HEAD = (
    "crew",
    "crew_name",
    "productive_hours_per_day",
    "minimum_hours",
    "hourly_cost",
    "hourly_charge",
    "currency",
)
"""What the new table takes over from the one that it follows."""


@dataclass(frozen=True, slots=True)
class Acceptance:
    """From when the fitted rates are to hold, under which name, and which activities keep the old ones."""

    valid_from: date
    name: str | None = None
    keep: Collection[str] = ()


def propose(
    session: Session, table_id: UUID | None, crew: str | None, jobs: Sequence[FinishedJob], now: datetime
) -> LabourCalibration:
    """Fit rates to the hours of finished jobs, beside those of a table, and store the proposal.

    The table is the one named, else the one in force today for the crew. Nothing that is priced changes.
    """
    today = office.today(session, now)
    table, rates = tables.labour_table(session, _table_id(session, table_id, crew, today))
    present = {rate.activity: float(rate.hours) for rate in rates}
    criteria = criteria_of(office.trade_values(session, None, today))
    found = calibrate(finished.booked(session, jobs, present), present, criteria)
    values = {
        "labour_table_id": table.id,
        "bookings": finished.stored(jobs),
        "result": _result(found, rates, criteria),
    }
    return catalogue.add(session, CALIBRATIONS, values)


def accept(
    session: Session, calibration_id: UUID, expected: Versions, order: Acceptance, now: datetime
) -> LabourCalibration:
    """Make the proposal a labour table that holds from a day on; until then the former one does.

    Conflict where it was accepted before, or the table's rates were changed since the fit.
    """
    version = catalogue.at_version(session, CALIBRATIONS, calibration_id, expected)
    row = catalogue.get(session, CALIBRATIONS, calibration_id)
    if row.state == "accepted":
        raise Conflict("the calibration was accepted before")
    table, rates = tables.labour_table(session, row.labour_table_id)
    _check(table, rates, row.result, order, office.today(session, now))
    new = tables.add_labour_table(session, _head(table, order), _rates(rates, row.result, order.keep))
    accepted = {"state": "accepted", "accepted_table_id": new.id, "accepted_at": now}
    return catalogue.replace(session, CALIBRATIONS, calibration_id, frozenset({version}), accepted)


def criteria_of(values: TradeValues) -> Criteria:
    """What the office asks of a fit."""
    return Criteria(
        fewest_jobs=round(values.number("calibration.fewest_jobs")),
        outlier_score=values.number("calibration.outlier_score"),
        least_spread=values.number("calibration.least_spread"),
        confidence=values.number("calibration.confidence"),
    )


def _table_id(session: Session, table_id: UUID | None, crew: str | None, today: date) -> UUID:
    if table_id is None:
        return UUID(tables.labour_table_for(session, today, crew).id)
    try:
        return catalogue.get(session, tables.LABOUR_TABLES, table_id).id
    except NotFound:
        raise UnknownReference("/labour_table_id", "No such labour table.") from None


def _result(found: Calibration, rates: Sequence[LabourRateRow], criteria: Criteria) -> dict[str, Any]:
    counted = {rate.activity: {"driver": rate.driver, "unit": rate.unit} for rate in rates}
    told: dict[str, Any] = to_json(found)
    told["rates"] = [{**rate, **counted[rate["activity"]]} for rate in told["rates"]]
    return {**told, "criteria": to_json(criteria)}


def _check(
    table: LabourTableRow,
    rates: Sequence[LabourRateRow],
    result: Mapping[str, Any],
    order: Acceptance,
    today: date,
) -> None:
    if order.valid_from < max(today, table.valid_from):
        raise UnknownReference("/valid_from", "Before today, or before the table that it follows.")
    fitted_beside = {rate["activity"]: rate["present"] for rate in result["rates"]}
    if {rate.activity: float(rate.hours) for rate in rates} != fitted_beside:
        raise Conflict("the labour table's rates were changed since; calibrate again")
    for place, activity in enumerate(order.keep):
        if activity not in fitted_beside:
            raise UnknownReference(f"/keep/{place}", "The labour table has no such activity.")


def _head(table: LabourTableRow, order: Acceptance) -> dict[str, Any]:
    name = order.name or f"{table.name}, calibrated {order.valid_from.isoformat()}"
    return {name_: getattr(table, name_) for name_ in HEAD} | {"name": name, "valid_from": order.valid_from}


def _rates(
    rates: Sequence[LabourRateRow], result: Mapping[str, Any], keep: Collection[str]
) -> list[dict[str, Any]]:
    moved = {
        rate["activity"]: Decimal(repr(rate["fitted"])).quantize(RATE_STEP)
        for rate in result["rates"]
        if rate["status"] in MOVED and rate["activity"] not in keep
    }
    return [
        {
            "activity": rate.activity,
            "driver": rate.driver,
            "unit": rate.unit,
            "hours": moved.get(rate.activity, rate.hours),
        }
        for rate in rates
    ]
