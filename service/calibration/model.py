"""What a calibration is asked and what it answers: plain data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

Status = Literal["fitted", "together", "too_few", "not_seen", "no_rate"]
"""fitted: by itself; together: with others, in the proportions of the rates in use, since no job tells them
apart; too_few and not_seen: left at the rate in use; no_rate: that one is nothing and stays so."""


@dataclass(frozen=True, slots=True)
class Booked:
    """Crew-member hours booked for so many units of each activity on one job: all of its work or a part."""

    job: str
    quantities: Mapping[str, float]
    hours: float


@dataclass(frozen=True, slots=True)
class Criteria:
    """How much must be known before a rate is moved, and what counts as not fitting.

    `fewest_jobs` with an activity before its rate is moved; `outlier_score` in standard deviations from the
    median; `least_spread` the share of a job's hours below which bookings are not told apart; `confidence`
    between the limits, from `resamples` weightings of the jobs drawn with `seed`.
    """

    fewest_jobs: int
    outlier_score: float
    least_spread: float
    confidence: float
    resamples: int = 199
    seed: int = 20_260_101


@dataclass(frozen=True, slots=True)
class FittedRate:
    """An activity's rate [crew-member hours per unit] in use and as fitted, with its limits."""

    activity: str
    present: float
    fitted: float
    low: float
    high: float
    status: Status
    jobs: int
    together_with: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class JudgedJob:
    """A job's hours as booked and as the fitted rates give them.

    `deviation` is what was booked beyond that, as a share of the hours that the rates in use give; `score` is
    how far it lies from the median of the jobs, in robust standard deviations.
    """

    job: str
    booked: float
    present: float
    fitted: float
    deviation: float
    score: float
    fits: bool


@dataclass(frozen=True, slots=True)
class Calibration:
    """Rates and jobs in the order given; mean absolute deviations [share] before and after, and `spread`,
    the robust standard deviation of the jobs about the fit [share]."""

    rates: tuple[FittedRate, ...]
    jobs: tuple[JudgedJob, ...]
    mean_deviation_present: float
    mean_deviation_fitted: float
    spread: float
