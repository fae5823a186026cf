"""Finished jobs of known rates, invented."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from service.calibration import Booked, Criteria

CRITERIA = Criteria(fewest_jobs=5, outlier_score=3.5, least_spread=0.01, confidence=0.9)


def rates_for(activities: int, seed: int = 1) -> dict[str, float]:
    dice = np.random.default_rng(seed)
    return {f"activity_{number}": float(dice.uniform(0.03, 1.2)) for number in range(activities)}


def finished(
    rates: Mapping[str, float], jobs: int, off: float, seed: int = 2, wrong: Mapping[int, float] | None = None
) -> list[Booked]:
    """Jobs of about half of the activities each, hours `off` by about that share, some far wrong."""
    dice = np.random.default_rng(seed)
    booked = []
    for number in range(jobs):
        there = [name for name in rates if dice.random() < 0.5] or [next(iter(rates))]
        amounts = {name: round(float(dice.uniform(2, 60)), 1) for name in there}
        hours = sum(amount * rates[name] for name, amount in amounts.items())
        factor = (wrong or {}).get(number, float(dice.normal(1, off)))
        booked.append(Booked(f"J{number}", amounts, hours * factor))
    return booked
