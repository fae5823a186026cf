"""Priced rooms as arrays: what their owners would say, and what the engine asks for them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from service.ballpark.answers import CHOICES, Answers
from service.ballpark.distributions import distributions

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


def words_of(question: str) -> tuple[str, ...]:
    """The words that may answer it; the first is what others are compared with."""
    of = distributions()
    if question == "exposure":
        return tuple(dict.fromkeys(word for kind in of.kinds.values() for word in kind.exposures.weights))
    plural = {"tile_size": "tile_sizes", "pattern": "patterns"}.get(question, f"{question}s")
    return tuple(of.words[plural].weights)


WORDS = {question: words_of(question) for question in CHOICES}


@dataclass(frozen=True)
class Sample:
    """Rooms by row. `size` is area [m2] and the rough lengths [m]; `choices` the places of the words of each
    question; `gross` the price in each of `regions`."""

    size: Floats
    choices: Ints
    gross: Floats
    regions: tuple[str, ...]
    refused: int = 0

    def __len__(self) -> int:
        return len(self.size)

    def taken(self, rows: Ints | npt.NDArray[np.bool_]) -> Sample:
        return replace(self, size=self.size[rows], choices=self.choices[rows], gross=self.gross[rows])


def sample_of(
    priced: Sequence[tuple[Answers, Sequence[float]]], regions: tuple[str, ...], refused: int = 0
) -> Sample:
    """The sample of rooms with their full answers and prices."""
    size = [(said.area_m2, (said.length or 0) / 1000, (said.width or 0) / 1000) for said, _ in priced]
    choices = [[WORDS[question].index(getattr(said, question)) for question in CHOICES] for said, _ in priced]
    return Sample(
        np.array(size, float).reshape(-1, 3),
        np.array(choices, int).reshape(-1, len(CHOICES)),
        np.array([prices for _, prices in priced], float).reshape(-1, len(regions)),
        regions,
        refused,
    )


def joined(samples: Sequence[Sample]) -> Sample:
    """One sample of several of the same regions."""
    return Sample(
        np.concatenate([one.size for one in samples]),
        np.concatenate([one.choices for one in samples]),
        np.concatenate([one.gross for one in samples]),
        samples[0].regions,
        sum(one.refused for one in samples),
    )
