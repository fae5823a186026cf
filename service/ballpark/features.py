"""What a price is regressed on: sizes, words, and each word's share of each size."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np

from service.ballpark.answers import CHOICES
from service.ballpark.masks import SIZED
from service.ballpark.sample import WORDS, Floats, Ints, Sample

PAIRS = (("tile_size", "pattern"),)
"""Questions whose answers bear on each other: how much of a tile is cut away depends on both."""


def columns(sample: Sample, answered: Collection[str]) -> Floats:
    """A row for each room; sizes and words that are not answered have no columns."""
    sizes = size_columns(sample.size, answered)
    words = [
        np.equal.outer(sample.choices[:, CHOICES.index(question)], np.arange(1, len(WORDS[question])))
        for question in CHOICES
        if question in answered
    ]
    pairs = [_pairs(sample.choices, *pair) for pair in PAIRS if set(pair) <= set(answered)]
    kinds = np.concatenate([np.ones((len(sample), 1)), *words, *pairs], axis=1)
    return (kinds[:, :, None] * sizes[:, None, :]).reshape(len(sample), -1)


def size_columns(size: Floats, answered: Collection[str]) -> Floats:
    """What a floor costs once, by its edge and by its area: price is a sum of such parts."""
    one = np.ones(len(size))
    if not SIZED & set(answered):
        return one[:, None]
    area = floor_m2(size, answered)
    edge = size[:, 1] + size[:, 2] if "lengths" in answered else np.sqrt(area)
    return np.stack([one, edge, area], axis=1)


def floor_m2(size: Floats, answered: Collection[str]) -> Floats:
    """The floor as its owner would know it: as said, else as the lengths give it [m2]."""
    floor: Floats = size[:, 0] if "area_m2" in answered else size[:, 1] * size[:, 2]
    return floor


def _pairs(choices: Ints, first: str, second: str) -> Floats:
    a, b = (choices[:, CHOICES.index(name)] for name in (first, second))
    both = [(a == i) & (b == j) for i in range(1, len(WORDS[first])) for j in range(1, len(WORDS[second]))]
    return np.stack(both, axis=1).astype(float)
