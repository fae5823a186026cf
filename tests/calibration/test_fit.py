"""Rates from booked hours: against a general solver, and against jobs of known rates."""

from __future__ import annotations

from time import process_time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from service.calibration import Booked, calibrate
from service.calibration.deviations import LeastDeviations
from tests.calibration.finished_jobs import CRITERIA, finished, rates_for


def least_deviation(design: np.ndarray, observed: np.ndarray, weights: np.ndarray) -> float:
    """The textbook's primal programme (Koenker, Quantile Regression, 2005): residuals parted by sign."""
    rows, columns = design.shape
    answer = linprog(
        np.concatenate([np.zeros(columns), weights, weights]),
        A_eq=np.hstack([design, np.eye(rows), -np.eye(rows)]),
        b_eq=observed,
        method="highs-ipm",
    )
    assert answer.success
    return float(answer.fun)


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 30), st.integers(1, 6), st.integers(0, 10_000))
def test_no_other_rates_deviate_less(rows: int, columns: int, seed: int) -> None:
    dice = np.random.default_rng(seed)
    design = dice.uniform(0, 5, (rows, columns)) * (dice.random((rows, columns)) < 0.7)
    observed, weights = dice.uniform(0, 10, rows), dice.uniform(0.1, 2, rows)
    rates = LeastDeviations(design, observed).rates(weights)
    assert (rates >= 0).all()
    least = least_deviation(design, observed, weights)
    assert weights @ np.abs(observed - design @ rates) == pytest.approx(least, rel=1e-6, abs=1e-6)


def test_the_median_of_one_rate() -> None:
    """Of one activity with 1 unit a job the least absolute deviations are about the median."""
    hours = [1.0, 1.2, 1.4, 9.0, 1.3]
    booked = [Booked(str(number), {"band": 1.0}, each) for number, each in enumerate(hours)]
    assert calibrate(booked, {"band": 1.0}, CRITERIA).rates[0].fitted == pytest.approx(1.3)


def test_exact_bookings_give_the_rates_back() -> None:
    rates = rates_for(12)
    table = {name: rate * 1.4 for name, rate in rates.items()}
    found = calibrate(finished(rates, 60, 0.0), table, CRITERIA)
    assert {rate.activity: rate.fitted for rate in found.rates} == pytest.approx(rates)
    assert found.mean_deviation_fitted == pytest.approx(0, abs=1e-9)
    assert found.mean_deviation_present == pytest.approx(0.4 / 1.4)
    assert all(job.fits for job in found.jobs)


def test_known_rates_are_found_through_noise_and_wrong_bookings() -> None:
    rates = rates_for(8)
    wrong = {3: 3.0, 17: 0.2, 40: 2.5, 77: 4.0, 90: 0.1}
    jobs = finished(rates, 120, 0.05, wrong=wrong)
    found = calibrate(jobs, dict.fromkeys(rates, 0.5), CRITERIA)
    for rate in found.rates:
        assert rate.fitted == pytest.approx(rates[rate.activity], rel=0.2, abs=0.05)
    assert {job.job for job in found.jobs if not job.fits} == {f"J{number}" for number in wrong}
    squares = np.linalg.lstsq(*_as_arrays(jobs, list(rates)), rcond=None)[0]
    off = [abs(rate.fitted - rates[rate.activity]) for rate in found.rates]
    off_by_squares = np.abs(squares - np.array(list(rates.values())))
    assert sum(off) < sum(off_by_squares)  # one wrong booking moves least squares


@pytest.mark.full
def test_the_limits_hold_the_true_rate_about_as_often_as_they_say() -> None:
    """Nine times in ten, over 100 offices of 8 rates; the range allows for resampling's own error."""
    rates = rates_for(8)
    held = []
    for seed in range(100):
        found = calibrate(finished(rates, 80, 0.1, seed=seed), dict.fromkeys(rates, 0.5), CRITERIA)
        held += [rate.low <= rates[rate.activity] <= rate.high for rate in found.rates]
    assert 0.82 <= np.mean(held) <= 0.97


def test_what_always_comes_together_moves_by_one_factor() -> None:
    """Two corners and one test on every job: their sum is known, 3 x 0.2 + 0.9 = 1.5 h, not each."""
    dice = np.random.default_rng(5)
    booked = [
        Booked(str(n), {"corner": 3.0, "test": 1.0, "set": area}, 1.5 + 0.5 * area)
        for n, area in enumerate(dice.uniform(5, 50, 12))
    ]
    found = calibrate(booked, {"corner": 0.1, "test": 0.7, "set": 0.6, "grout": 0.03}, CRITERIA)
    by_name = {rate.activity: rate for rate in found.rates}
    assert by_name["set"].fitted == pytest.approx(0.5)
    assert by_name["set"].status == "fitted"
    assert (by_name["corner"].fitted, by_name["test"].fitted) == pytest.approx((0.15, 1.05))
    assert by_name["corner"].status == "together"
    assert by_name["corner"].together_with == ("test",)
    assert (by_name["grout"].status, by_name["grout"].fitted) == ("not_seen", 0.03)


def test_an_activity_of_few_jobs_stays_and_its_hours_are_taken_off() -> None:
    booked = [Booked(str(n), {"set": 10.0 + n}, 0.5 * (10.0 + n)) for n in range(9)]
    booked.append(Booked("9", {"set": 10.0, "drain": 2.0}, 5.0 + 2.0))
    rates = calibrate(booked, {"set": 0.7, "drain": 1.0}, CRITERIA).rates
    assert [rate.fitted for rate in rates] == pytest.approx([0.5, 1.0])
    assert [rate.status for rate in rates] == ["fitted", "too_few"]
    assert (rates[1].low, rates[1].high) == (1.0, 1.0)


def test_fewer_jobs_than_rates_move_the_table_as_one() -> None:
    rates = rates_for(6)
    dice = np.random.default_rng(8)
    booked = [
        Booked(str(n), amounts, 1.25 * sum(rates[name] * units for name, units in amounts.items()))
        for n, amounts in enumerate({name: float(dice.uniform(1, 9)) for name in rates} for _ in range(5))
    ]
    found = calibrate(booked, rates, CRITERIA).rates
    assert {rate.status for rate in found} == {"together"}
    assert [rate.fitted for rate in found] == pytest.approx([1.25 * rates[rate.activity] for rate in found])


def test_bookings_by_activity_of_one_job_are_judged_together() -> None:
    booked = [
        Booked(str(n), {name: 10.0 + n}, rate * (10.0 + n))
        for n in range(6)
        for name, rate in (("set", 0.5), ("grout", 0.1))
    ]
    found = calibrate(booked, {"set": 0.4, "grout": 0.2}, CRITERIA)
    assert [rate.fitted for rate in found.rates] == pytest.approx([0.5, 0.1])
    assert len(found.jobs) == 6
    assert found.jobs[0].booked == pytest.approx(6.0)
    assert [rate.jobs for rate in found.rates] == [6, 6]


def test_the_same_bookings_give_the_same_limits() -> None:
    rates = rates_for(5)
    jobs = finished(rates, 40, 0.1)
    assert calibrate(jobs, rates, CRITERIA) == calibrate(jobs, rates, CRITERIA)


@pytest.mark.full
def test_two_hundred_jobs_of_thirty_activities_take_under_a_second() -> None:
    """With the limits: the fit and its 199 repetitions."""
    rates = rates_for(30)
    jobs = finished(rates, 200, 0.1, wrong={7: 4.0})
    began = process_time()
    found = calibrate(jobs, dict.fromkeys(rates, 0.4), CRITERIA)
    assert process_time() - began < 1.0
    assert all(rate.low <= rate.high for rate in found.rates)


def _as_arrays(jobs: list[Booked], names: list[str]) -> tuple[np.ndarray, np.ndarray]:
    design = np.array([[job.quantities.get(name, 0.0) for name in names] for job in jobs])
    return design, np.array([job.hours for job in jobs])
