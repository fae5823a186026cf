"""Finished jobs as a calibration takes them: how much of each rate's work, and the hours booked for it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from service.calibration import Booked
from service.quoting.catalogue import UnknownReference
from service.quoting.snapshot import from_json
from service.store.quote_lists import labour_of
from service.takeoff.answer import LabourLine

Quoted = Mapping[UUID, Sequence[Mapping[str, Any]]]
"""The hours of quotes' take-offs as they are kept, by quote."""


@dataclass(frozen=True, slots=True)
class FinishedJob:
    """A job with its quantities, or the quote whose take-off has them; its hours in all, or by activity."""

    job: str
    quantities: Mapping[str, float] = field(default_factory=dict)
    quote_id: UUID | None = None
    hours: float | None = None
    hours_by_activity: Mapping[str, float] = field(default_factory=dict)


def booked(session: Session, jobs: Sequence[FinishedJob], rates: Mapping[str, float]) -> list[Booked]:
    """One booking a job, or one for each activity booked by itself.

    UnknownReference names the field of a quote that is not there, of work that the table has no rate for or
    takes no time at, and of hours for work that the job does not have.
    """
    quoted = labour_of(session, {job.quote_id for job in jobs if job.quote_id is not None})
    return [each for place, job in enumerate(jobs) for each in _of_job(f"/jobs/{place}", job, quoted, rates)]


def _of_job(at: str, job: FinishedJob, quoted: Quoted, rates: Mapping[str, float]) -> Iterator[Booked]:
    quantities = _quantities(at, job, quoted)
    for activity in quantities:
        if activity not in rates:
            where = f"{at}/quote_id" if job.quote_id else _member(f"{at}/quantities", activity)
            raise UnknownReference(where, f"The labour table has no rate for {activity}.")
    if job.hours is not None:
        yield _row(f"{at}/hours", job.job, quantities, job.hours, rates)
    for activity, hours in job.hours_by_activity.items():
        where = _member(f"{at}/hours_by_activity", activity)
        part = {name: amount for name, amount in quantities.items() if name.partition(":")[0] == activity}
        if not part:
            raise UnknownReference(where, "The job has no such work.")
        yield _row(where, job.job, part, hours, rates)


def _row(
    where: str, job: str, quantities: Mapping[str, float], hours: float, rates: Mapping[str, float]
) -> Booked:
    if not any(rates[activity] > 0 and amount > 0 for activity, amount in quantities.items()):
        raise UnknownReference(where, "Booked for work that takes no time at the table's rates.")
    return Booked(job, quantities, hours)


def _quantities(at: str, job: FinishedJob, quoted: Quoted) -> Mapping[str, float]:
    if job.quote_id is None:
        return job.quantities
    if job.quote_id not in quoted:
        raise UnknownReference(f"{at}/quote_id", "No such quote.")
    return quantities_of(from_json(quoted[job.quote_id], tuple[LabourLine, ...]))


def quantities_of(labour: Iterable[LabourLine]) -> dict[str, float]:
    """Of each rate the quantity as it would be of plain work, so that factors are not fitted twice."""
    found: dict[str, float] = {}
    for part in (part for line in labour for part in line.parts):
        found[part.rate] = found.get(part.rate, 0.0) + part.weighted
    return found


def _member(at: str, name: str) -> str:
    return f"{at}/{name.replace('~', '~0').replace('/', '~1')}"


def stored(jobs: Iterable[FinishedJob]) -> dict[str, Any]:
    """The jobs as they were given, for the record."""
    return {"jobs": [_given(job) for job in jobs]}


def _given(job: FinishedJob) -> dict[str, Any]:
    return {
        "job": job.job,
        "quantities": dict(job.quantities),
        "quote_id": str(job.quote_id) if job.quote_id else None,
        "hours": job.hours,
        "hours_by_activity": dict(job.hours_by_activity),
    }
