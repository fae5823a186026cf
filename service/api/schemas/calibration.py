"""Booked hours as sent, and the rates fitted to them as answered."""

from __future__ import annotations

from typing import Any

import marshmallow as ma

from service.api.framework.fields import Keyed, Number, Rounded, Text, Word
from service.api.framework.schema import AnswerSchema, RequestSchema
from service.api.schemas.catalogue import Stored
from service.store.models import LabourCalibration

MOST_JOBS = 500
MOST_BOOKINGS = 2000
"""So many are fitted within seconds."""
MOST_HOURS = 100_000
STATUSES = ("fitted", "together", "too_few", "not_seen", "no_rate")


def _amounts(most: float, meaning: str) -> Keyed:
    return Keyed(
        keys=Text(60),
        values=Number(0, most, above=True),
        validate=ma.validate.Length(1, 300),
        metadata={"description": meaning},
    )


class FinishedJobSchema(RequestSchema):
    """A finished job: what there was to do, and the hours of all crew members together."""

    job = Text(80, required=True)
    quote_id = ma.fields.UUID(metadata={"description": "whose take-off has the quantities"})
    quantities = _amounts(
        10_000_000, "by rate of the labour table, in its unit, already times pattern, tile and room factors"
    )
    hours = Number(0, MOST_HOURS, above=True, metadata={"description": "booked in all"})
    hours_by_activity = _amounts(MOST_HOURS, "booked for single activities")

    @ma.validates_schema
    def _one_of_each(self, data: dict[str, Any], **_: Any) -> None:
        for one, other in (("quote_id", "quantities"), ("hours", "hours_by_activity")):
            if (one in data) == (other in data):
                raise ma.ValidationError(f"Give either {one} or {other}.", one)


class CalibrationRequestSchema(RequestSchema):
    """Hours booked on finished jobs, and the table that is to be set right by them."""

    labour_table_id = ma.fields.UUID(metadata={"description": "without it the one in force today"})
    crew = Text(80, metadata={"description": "whose table is in force today; without it the usual crew's"})
    jobs = ma.fields.List(
        ma.fields.Nested(FinishedJobSchema), required=True, validate=ma.validate.Length(1, MOST_JOBS)
    )

    @ma.validates_schema
    def _one_table(self, data: dict[str, Any], **_: Any) -> None:
        if "crew" in data and "labour_table_id" in data:
            raise ma.ValidationError("Give labour_table_id or crew, not both.", "crew")

    @ma.validates_schema
    def _within_budget(self, data: dict[str, Any], **_: Any) -> None:
        bookings = sum(len(job.get("hours_by_activity", "1")) for job in data["jobs"])
        if bookings > MOST_BOOKINGS:
            told = f"{bookings} bookings; a calibration may have {MOST_BOOKINGS}."
            raise ma.ValidationError(told, "jobs")

    @ma.validates_schema
    def _each_job_once(self, data: dict[str, Any], **_: Any) -> None:
        seen: set[str] = set()
        for place, job in enumerate(data["jobs"]):
            if job["job"] in seen:
                raise ma.ValidationError({"jobs": {place: {"job": ["This job is there already."]}}})
            seen.add(job["job"])


class AcceptCalibrationSchema(RequestSchema):
    """From when the fitted rates hold."""

    valid_from = ma.fields.Date(required=True, metadata={"description": "today or later"})
    name = Text(metadata={"description": "of the new table; without it the former's, marked as calibrated"})
    keep = ma.fields.List(
        Text(60),
        load_default=[],
        validate=ma.validate.Length(max=300),
        metadata={"description": "activities that stay at their rate"},
    )


class FittedRateSchema(AnswerSchema):
    """A rate in crew-member hours per unit, in use and as fitted, with the limits of its uncertainty."""

    activity = ma.fields.String()
    driver = ma.fields.String()
    unit = ma.fields.String()
    present_hours = Rounded(6, attribute="present")
    fitted_hours = Rounded(6, attribute="fitted")
    low_hours = Rounded(6, attribute="low")
    high_hours = Rounded(6, attribute="high")
    status = Word(
        *STATUSES,
        metadata={
            "description": "fitted by itself; together with others that no job tells apart, in the"
            " proportions in use; the others stay: in too few jobs, in none, or without a rate"
        },
    )
    jobs = ma.fields.Integer(metadata={"description": "that have it"})
    together_with = ma.fields.List(ma.fields.String())


class JudgedJobSchema(AnswerSchema):
    """A job's hours as booked, at the rates in use, and at the fitted ones."""

    job = ma.fields.String()
    booked_hours = Rounded(2, attribute="booked")
    present_hours = Rounded(2, attribute="present")
    fitted_hours = Rounded(2, attribute="fitted")
    deviation_percent = Rounded(2, metadata={"description": "booked beyond fitted, of present hours"})
    score = Rounded(2, metadata={"description": "robust standard deviations from the median of the jobs"})
    fits = ma.fields.Boolean()


class CriteriaSchema(AnswerSchema):
    """What the fit was held to."""

    fewest_jobs = ma.fields.Integer()
    outlier_score = Rounded(4)
    least_spread_percent = Rounded(2)
    confidence_percent = Rounded(2)
    resamples = ma.fields.Integer()
    seed = ma.fields.Integer()


class CalibrationHead(Stored):
    """A calibration in a list, without its rates and jobs."""

    state = Word("proposed", "accepted")
    labour_table_id = ma.fields.UUID(metadata={"description": "that the fit begins from"})
    accepted_table_id = ma.fields.UUID(allow_none=True, metadata={"description": "that it was made"})
    accepted_at = ma.fields.AwareDateTime(allow_none=True)


class CalibrationAnswer(CalibrationHead):
    mean_deviation_present_percent = Rounded(
        2, metadata={"description": "mean of the bookings' absolute deviations, of the hours in use"}
    )
    mean_deviation_fitted_percent = Rounded(2)
    spread_percent = Rounded(
        2, metadata={"description": "robust standard deviation of the jobs about the fit"}
    )
    criteria = ma.fields.Nested(CriteriaSchema)
    rates = ma.fields.List(ma.fields.Nested(FittedRateSchema))
    jobs = ma.fields.List(ma.fields.Nested(JudgedJobSchema))


def calibration_answer(row: LabourCalibration) -> dict[str, Any]:
    """The row as answered, shares as percentages."""
    told = {name: getattr(row, name) for name in CalibrationHead().fields}
    found = row.result
    criteria = found["criteria"]
    return {
        **told,
        **{
            f"{name}_percent": 100 * found[name]
            for name in ("mean_deviation_present", "mean_deviation_fitted", "spread")
        },
        "criteria": {
            **criteria,
            "least_spread_percent": 100 * criteria["least_spread"],
            "confidence_percent": 100 * criteria["confidence"],
        },
        "rates": found["rates"],
        "jobs": [{**job, "deviation_percent": 100 * job["deviation"]} for job in found["jobs"]],
    }
