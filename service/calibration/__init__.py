"""An office's own rates from the hours that it booked on finished jobs. Pure.

Each deviation counts as a share of the hours that the rates in use give for that work, so that a large job
off by a tenth counts as much as a small one that is.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from service.calibration import apart
from service.calibration.deviations import Floats, LeastDeviations
from service.calibration.judging import judged, spread_of
from service.calibration.model import Booked, Calibration, Criteria, FittedRate, JudgedJob, Status

__all__ = ["Booked", "Calibration", "Criteria", "FittedRate", "JudgedJob", "Status", "calibrate"]


def calibrate(booked: Sequence[Booked], present: Mapping[str, float], criteria: Criteria) -> Calibration:
    """Fit the rates [crew-member hours per unit] that explain the hours booked, from the `present` ones on.

    A rate moves only where enough jobs have its activity; rates that no job tells apart move by one factor.
    Raises ValueError for work whose rates in use are all nothing, and KeyError for an activity without one.
    """
    fit = _Fit(booked, present, criteria)
    return fit.answer()


class _Fit:
    """The rows of a fit: quantities and hours, each as a share of the hours at the rates in use."""

    def __init__(self, booked: Sequence[Booked], present: Mapping[str, float], criteria: Criteria) -> None:
        self._booked, self._criteria = booked, criteria
        self._names = list(present)
        self._present = np.array([present[name] for name in self._names], dtype=np.float64)
        quantities = _table(booked, self._names)
        self._usual = _usual(quantities @ self._present)
        self._design = quantities / self._usual[:, None]
        self._shares = np.array([row.hours for row in booked]) / self._usual
        self._jobs = _jobs_with(booked, self._names, quantities)
        self._moved = [
            column
            for column in range(len(self._names))
            if self._jobs[column] >= criteria.fewest_jobs and self._present[column] > 0
        ]
        self._groups = self._grouped()

    def answer(self) -> Calibration:
        fitted, low, high = self._with_limits()
        jobs = judged(self._booked, self._usual, self._design @ fitted, len(self._groups), self._criteria)
        shares_present = self._shares - self._design @ self._present
        return Calibration(
            rates=tuple(self._rates(fitted, low, high)),
            jobs=jobs,
            mean_deviation_present=float(np.abs(shares_present).mean()),
            mean_deviation_fitted=float(np.abs(self._shares - self._design @ fitted).mean()),
            spread=spread_of([job.deviation for job in jobs], len(self._groups), self._criteria),
        )

    def _grouped(self) -> list[list[int]]:
        if not self._moved:
            return []
        found = apart.groups(self._design[:, self._moved])
        return [[self._moved[number] for number in group] for group in found]

    def _with_limits(self) -> tuple[Floats, Floats, Floats]:
        """The rates, and the limits between which most of the fits to other weights of the jobs lie."""
        if not self._groups:
            return self._present, self._present, self._present
        merged = np.column_stack([self._design[:, g] @ self._present[g] for g in self._groups])
        held = [column for column in range(len(self._names)) if column not in self._moved]
        observed = self._shares - self._design[:, held] @ self._present[held]
        programme = LeastDeviations(merged, observed)
        best = programme.rates(np.ones(len(self._booked)))
        others = np.array([programme.rates(weights) for weights in self._weightings()])
        beyond = (1 - self._criteria.confidence) / 2
        low, high = np.quantile(others, [beyond, 1 - beyond], axis=0)
        return self._spread_out(best), self._spread_out(low), self._spread_out(high)

    def _spread_out(self, factors: Floats) -> Floats:
        """The rates of all activities from the groups' factors on the rates in use."""
        rates = self._present.copy()
        for group, factor in zip(self._groups, factors, strict=True):
            rates[group] = self._present[group] * factor
        return rates

    def _weightings(self) -> Iterator[Floats]:
        """Jobs weighted at random, exponentially, all rows of a job alike (Rao and Zhao, 1992): unlike
        drawing jobs with replacement it never leaves an activity without a job."""
        dice = np.random.default_rng(self._criteria.seed)
        numbers = {job: number for number, job in enumerate(dict.fromkeys(row.job for row in self._booked))}
        of_row = np.array([numbers[row.job] for row in self._booked])
        for _ in range(self._criteria.resamples):
            yield dice.exponential(size=len(numbers))[of_row]

    def _rates(self, fitted: Floats, low: Floats, high: Floats) -> Iterator[FittedRate]:
        group_of = {column: group for group in self._groups for column in group}
        for column, name in enumerate(self._names):
            group = group_of.get(column, [])
            yield FittedRate(
                activity=name,
                present=float(self._present[column]),
                fitted=float(fitted[column]),
                low=float(low[column]),
                high=float(high[column]),
                status=self._status(column, group),
                jobs=self._jobs[column],
                together_with=tuple(self._names[other] for other in group if other != column),
            )

    def _status(self, column: int, group: Sequence[int]) -> Status:
        if group:
            return "fitted" if len(group) == 1 else "together"
        if not self._jobs[column]:
            return "not_seen"
        return "too_few" if self._present[column] > 0 else "no_rate"


def _table(booked: Sequence[Booked], names: Sequence[str]) -> Floats:
    place = {name: number for number, name in enumerate(names)}
    table = np.zeros((len(booked), len(names)))
    for number, row in enumerate(booked):
        for name, quantity in row.quantities.items():
            table[number, place[name]] = quantity
    return table


def _usual(hours: Floats) -> Floats:
    if (hours <= 0).any():
        raise ValueError("work that takes no time at the rates in use has no share to be off by")
    return hours


def _jobs_with(booked: Sequence[Booked], names: Sequence[str], quantities: Floats) -> list[int]:
    """How many jobs have each activity."""
    jobs = [row.job for row in booked]
    return [
        len({job for job, amount in zip(jobs, column, strict=True) if amount > 0}) for column in quantities.T
    ]
