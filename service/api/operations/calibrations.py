"""Labour rates from booked hours: proposed, read, accepted."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any
from uuid import UUID

from service.api import examples
from service.api.framework.conditional import expected_versions, tagged
from service.api.framework.context import now, session
from service.api.framework.pages import PageQuery, paged
from service.api.framework.routes import Routes
from service.api.schemas.calibration import (
    AcceptCalibrationSchema,
    CalibrationAnswer,
    CalibrationHead,
    CalibrationRequestSchema,
    calibration_answer,
)
from service.api.schemas.catalogue import page_schema
from service.quoting import catalogue
from service.quoting.labour import calibrations
from service.quoting.labour.calibrations import CALIBRATIONS, Acceptance
from service.quoting.labour.finished import FinishedJob
from service.store.models import LabourCalibration

WHERE = "/v1/labour-rates/calibrations"
routes = Routes(
    "labour-calibrations", __name__, url_prefix=WHERE, description="Labour rates fitted to booked hours"
)
Answer = tuple[Any, Mapping[str, str]]
ONE = "/<uuid:calibration_id>"


@routes.operation(
    "GET",
    "",
    "List calibrations",
    scope="prices",
    query=PageQuery,
    answer=page_schema(CalibrationHead),
    headers=("Link",),
)
def list_calibrations(query: dict[str, Any]) -> Answer:
    """Newest first, without their rates and jobs."""
    page = paged(query, partial(catalogue.listing, session(), CALIBRATIONS))
    return page, page.headers


@routes.operation(
    "POST",
    "",
    "Fit labour rates to booked hours",
    scope="prices",
    body=CalibrationRequestSchema,
    answer=CalibrationAnswer,
    status=201,
    example=examples.CALIBRATION,
    stores=True,
    headers=("Location", "ETag"),
)
def calibrate_labour_rates(body: dict[str, Any]) -> Answer:
    """A proposal: the rates with the least sum of absolute deviations from the hours booked.

    Each deviation counts as a share of the hours at the rates in use, no rate is negative, and what no job
    tells apart moves by one factor. The limits come from fits to jobs weighted at random. Jobs far from the
    others are told; they hardly move the rates. Nothing changes until it is accepted.
    """
    jobs = [FinishedJob(**job) for job in body["jobs"]]
    row = calibrations.propose(session(), body.get("labour_table_id"), body.get("crew"), jobs, now())
    told, headers = _told(row)
    return told, {"Location": f"{WHERE}/{row.id}", **headers}


@routes.operation(
    "GET",
    ONE,
    "Read a calibration",
    scope="prices",
    answer=CalibrationAnswer,
    headers=("ETag",),
    problems=(404,),
)
def get_calibration(calibration_id: UUID) -> Answer:
    return _told(catalogue.get(session(), CALIBRATIONS, calibration_id))


@routes.operation(
    "POST",
    f"{ONE}/accept",
    "Accept a calibration",
    scope="prices",
    body=AcceptCalibrationSchema,
    answer=CalibrationAnswer,
    example=examples.CALIBRATION_ACCEPTANCE,
    changes=True,
    stores=True,
    headers=("ETag",),
    problems=(409,),
)
def accept_calibration(calibration_id: UUID, body: dict[str, Any]) -> Answer:
    """The fitted rates become a labour table of the same crew, in force from the day named."""
    order = Acceptance(**body)
    return _told(calibrations.accept(session(), calibration_id, expected_versions(), order, now()))


def _told(row: LabourCalibration) -> Answer:
    return calibration_answer(row), tagged(row.version)
