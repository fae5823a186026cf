"""How often prices of rooms that a model has not seen lie in its range.

A claim about the engine that priced the rooms, not about jobs that were done.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from service.ballpark.answers import CHOICES, Answers
from service.ballpark.distributions import distributions
from service.ballpark.model import Model
from service.ballpark.sample import WORDS, Sample

SIZE_CLASSES = ("small", "medium", "large")
ALL = frozenset({"area_m2", "lengths", "room_kind", *CHOICES})
SETS: Mapping[str, frozenset[str]] = {
    "all": ALL,
    "area, kind, wet or dry": frozenset({"area_m2", "room_kind", "exposure"}),
    "area and kind": frozenset({"area_m2", "room_kind"}),
}
"""Sets of answered questions that the check goes through, the fullest first."""


@dataclass(frozen=True, slots=True)
class Checked:
    """Rooms of one kind and size class, with these questions answered; `width` is the median over likely."""

    answered: str
    kind: str
    size_class: str
    rooms: int
    inside: int
    width: float

    @property
    def share(self) -> float:
        return self.inside / self.rooms

    @property
    def two_errors(self) -> float:
        """Twice the standard error of the share of a binomial of 90 %."""
        return 2 * float(np.sqrt(0.9 * 0.1 / self.rooms))


def checked(model: Model, sample: Sample, kind: str, region: int = 0) -> Iterator[Checked]:
    """By size class, whose bounds are those of the written distribution of areas."""
    bounds = distributions().kinds[kind].area_m2.thirds
    classes = np.searchsorted(bounds, sample.size[:, 0])
    for name, answered in SETS.items():
        lows, widths, highs = _ranges(model, sample, kind, answered)
        inside = (lows <= sample.gross[:, region]) & (sample.gross[:, region] <= highs)
        for number, size_class in enumerate(SIZE_CLASSES):
            rows = classes == number
            if rows.any():
                found = int(inside[rows].sum())
                yield Checked(name, kind, size_class, int(rows.sum()), found, float(np.median(widths[rows])))


def said_of(sample: Sample, row: int, kind: str, answered: Collection[str]) -> Answers:
    """What the owner of this room would say to these questions."""
    area, length, width = sample.size[row].tolist()
    words = {
        question: WORDS[question][sample.choices[row, place]]
        for place, question in enumerate(CHOICES)
        if question in answered
    }
    return Answers(
        area_m2=area if "area_m2" in answered else None,
        length=1000 * length if "lengths" in answered else None,
        width=1000 * width if "lengths" in answered else None,
        room_kind=kind if "room_kind" in answered else None,
        **words,
    )


def _ranges(
    model: Model, sample: Sample, kind: str, answered: Collection[str]
) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    found = [model.range(said_of(sample, row, kind, answered)) for row in range(len(sample))]
    return np.array([(each.low, each.width, each.high) for each in found]).T
