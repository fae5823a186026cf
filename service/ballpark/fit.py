"""A model from priced rooms: prices regressed on answers, the spread around them as it was out of sample.

For each kind of room (and for any kind) and each set of answered questions: least squares of the relative
error, and quantiles of price over regression by the room's size, taken from folds that the regression had
not seen and widened until 90 % of those lie inside (split conformal; Vovk, Gammerman, Shafer 2005; cross
conformal, Vovk 2015).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np

from service.ballpark.distributions import distributions
from service.ballpark.features import columns, floor_m2
from service.ballpark.masks import CASES, SIZED
from service.ballpark.model import ANY, Case, Model
from service.ballpark.sample import Floats, Ints, Sample, joined

INSIDE = 0.90
FOLDS = 5
SOFTNESS = 2.0  # of the ridge, in rooms of usual size
ROUNDS = 3
LEAST_ROOMS = 60


def fitted(samples: Mapping[str, Sample], region: int, going_on: Callable[[], None] = lambda: None) -> Model:
    """The model of one region's prices; ValueError for a kind of too few rooms. `going_on` is called after
    each kind of room and may raise what ends it all."""
    for kind, sample in samples.items():
        if len(sample) < LEAST_ROOMS:
            raise ValueError(f"{len(sample)} rooms of {kind} could be priced, {LEAST_ROOMS} are needed")
    all_kinds = {ANY: mixed(samples), **samples}
    return Model(
        generator=distributions().version,
        rooms=sum(map(len, samples.values())),
        refused=sum(sample.refused for sample in samples.values()),
        cases={kind: _cases(sample, region, going_on) for kind, sample in all_kinds.items()},
        areas={kind: _span(sample) for kind, sample in all_kinds.items()},
    )


def _cases(sample: Sample, region: int, going_on: Callable[[], None]) -> tuple[Case, ...]:
    found = tuple(_case(sample, sample.gross[:, region], case) for case in CASES)
    going_on()
    return found


def mixed(samples: Mapping[str, Sample]) -> Sample:
    """Rooms of all kinds as often as they are asked for."""
    weights = {kind: distributions().kinds[kind].weight for kind in samples}
    share = min(len(samples[kind]) / weight for kind, weight in weights.items())
    return joined([samples[kind].taken(np.arange(int(share * weight))) for kind, weight in weights.items()])


def thirds(sample: Sample) -> Ints:
    """The size class of each room: the bounds between the classes hold a third of the rooms each."""
    return np.searchsorted(np.quantile(sample.size[:, 0], [1 / 3, 2 / 3]), sample.size[:, 0])


def _case(sample: Sample, gross: Floats, case: frozenset[str]) -> Case:
    table = columns(sample, case)
    width = 3 if case & SIZED else 1
    coefficients, ratio = _regressed(table, gross)
    at, classes = np.zeros(len(sample)), np.zeros(len(sample), int)
    if case & SIZED:
        at, classes = np.log(floor_m2(sample.size, case)), thirds(sample)
    nodes = np.array([np.median(at[classes == one]) for one in np.unique(classes)])
    quantiles = calibrated(ratio, classes, nodes, at)
    low, likely, high = (np.interp(at, nodes, line) for line in quantiles)
    return Case(
        coefficients=coefficients.reshape(-1, width),
        nodes=nodes,
        quantiles=quantiles,
        width=float(np.mean((high - low) / likely)),
    )


def calibrated(ratio: Floats, classes: Ints, nodes: Floats, at: Floats) -> Floats:
    """Low, likely and high of the ratio at each node, so that 90 % of each class lie between."""
    outside = (1 - INSIDE) / 2
    asked = [outside, 0.5, 1 - outside]
    lines = np.stack([np.quantile(ratio[classes == one], asked) for one in range(len(nodes))])
    low, likely, high = lines.T.copy()
    for _ in range(ROUNDS):
        middle = np.interp(at, nodes, likely)
        below = (middle - ratio) / (middle - np.interp(at, nodes, low))
        above = (ratio - middle) / (np.interp(at, nodes, high) - middle)
        wider = np.array([_reaching(np.maximum(below, above)[classes == one]) for one in range(len(nodes))])
        low, high = likely - wider * (likely - low), likely + wider * (high - likely)
    return np.stack([low, likely, high])


def _reaching(scores: Floats) -> float:
    """The score that 90 % of rooms, one more among them, do not go beyond."""
    rank = min(int(np.ceil(INSIDE * (len(scores) + 1))), len(scores))
    return float(np.sort(scores)[rank - 1])


def _regressed(table: Floats, gross: Floats) -> tuple[Floats, Floats]:
    """Coefficients of least relative squares, and each price over what the other folds foretell.

    The squares of a fold are summed once; what the others come to is the whole less them.
    """
    relative = table / gross[:, None]
    folds = [slice(one, None, FOLDS) for one in range(FOLDS)]
    squares = np.stack([relative[fold].T @ relative[fold] for fold in folds])
    sums = np.stack([relative[fold].sum(axis=0) for fold in folds])
    counts = np.array([len(relative[fold]) for fold in folds])
    ratio = np.empty(len(gross))
    for fold, square, sum_, count in zip(folds, squares, sums, counts, strict=True):
        found = _solved(squares.sum(axis=0) - square, sums.sum(axis=0) - sum_, counts.sum() - count)
        ratio[fold] = gross[fold] / (table[fold] @ found)
    return _solved(squares.sum(axis=0), sums.sum(axis=0), counts.sum()), ratio


def _solved(squares: Floats, sums: Floats, count: int) -> Floats:
    """With a ridge on each column in its own scale."""
    scale = np.sqrt(np.maximum(np.diag(squares), 0.0) / count) + 1e-12
    ridge = np.full(len(scale), SOFTNESS)
    ridge[0] = 1e-6
    found: Floats = np.linalg.solve(squares / np.outer(scale, scale) + np.diag(ridge), sums / scale) / scale
    return found


def _span(sample: Sample) -> tuple[float, float]:
    areas = sample.size[:, 0]
    return float(areas.min()), float(areas.max())
