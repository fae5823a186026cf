"""Which jobs do not fit: by the median absolute deviation, which they themselves hardly move."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median

from service.calibration.deviations import Floats
from service.calibration.model import Booked, Criteria, JudgedJob

NORMAL = 0.6745
"""The median absolute deviation of a normal distribution, in its standard deviations."""


def judged(
    booked: Sequence[Booked], usual: Floats, shares: Floats, fixed: int, criteria: Criteria
) -> tuple[JudgedJob, ...]:
    """Each job once, by the sum of its bookings; `shares` are the fitted hours over the `usual` ones.

    A job does not fit where it lies more than the criterion from the median (Iglewicz and Hoaglin, How to
    Detect and Handle Outliers, 1993).
    """
    sums: dict[str, list[float]] = {}
    for row, hours, share in zip(booked, usual, shares, strict=True):
        job = sums.setdefault(row.job, [0.0, 0.0, 0.0])
        for place, part in enumerate((row.hours, float(hours), float(hours * share))):
            job[place] += part
    off = {job: (hours - fitted) / present for job, (hours, present, fitted) in sums.items()}
    middle, spread = median(off.values()), spread_of(list(off.values()), fixed, criteria)
    return tuple(
        _judged(job, (hours, present, fitted), off[job], (off[job] - middle) / spread, criteria)
        for job, (hours, present, fitted) in sums.items()
    )


def _judged(
    job: str, hours: tuple[float, float, float], deviation: float, score: float, criteria: Criteria
) -> JudgedJob:
    booked, present, fitted = hours
    return JudgedJob(job, booked, present, fitted, deviation, score, abs(score) <= criteria.outlier_score)


def spread_of(deviations: Sequence[float], fixed: int, criteria: Criteria) -> float:
    """The robust standard deviation, never under the least that bookings tell apart.

    A fit of least absolute deviations goes right through as many rows as it has free rates; those `fixed` say
    nothing of the spread, and the smallest deviations are left out for them.
    """
    middle = median(deviations)
    away = sorted(abs(each - middle) for each in deviations)
    told = away[min(fixed, len(away) - 1) :]
    return max(median(told) / NORMAL, criteria.least_spread)
