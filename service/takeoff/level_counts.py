"""Every start on a right-angled field counted at once, without laying a tile.

For rectangular tiles in level courses a count is a sum over kinds of columns and kinds of rows, so that
for all starts along x and all along y it is a product of three small matrices: how often a part of a tile
occurs along x, what it makes with a part along y, how often that occurs along y. A floor of ten thousand
tiles costs hardly more than one of a hundred.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from service.takeoff.lattice import Repeat
from service.takeoff.laying import is_rectangle
from service.takeoff.level_field import LevelField, Spans, Tables, spans, tables
from service.takeoff.rings import TOLERANCE
from service.takeoff.room import Point, Ring
from service.takeoff.sight import Threshold
from service.takeoff.sweep import Floats
from service.takeoff.tried import GAP, NEAR_SHARE, SHARES, Tried, Wants

_MOST_CLASSES = 12  # courses until the offset repeats


@dataclass(frozen=True)
class Courses:
    """A lattice of rectangles in level courses that repeats after `classes` courses."""

    repeat: Repeat
    classes: int

    @property
    def shifts(self) -> Floats:
        """Of each class of courses along x [mm]."""
        return np.arange(self.classes) * np.float64(self.repeat.shift)


def courses_of(repeat: Repeat) -> Courses | None:
    """The lattice as courses; None where it rises, is of other tiles or hardly repeats."""
    if repeat.rise or not all(map(is_rectangle, repeat.tiles)):
        return None
    offset = Fraction(repeat.shift / repeat.step_x).limit_denominator(_MOST_CLASSES)
    if abs(float(offset) * repeat.step_x - repeat.shift) * _MOST_CLASSES > TOLERANCE:
        return None
    return Courses(repeat, offset.denominator)


def count_all(
    level: LevelField,
    courses: Courses,
    xs: Floats,
    ys: Floats,
    wants: Wants,
    threshold: Threshold | None = None,
) -> Tried:
    """Every start of `xs` with every one of `ys`, x first [mm]."""
    sums = np.sum([_of_tile(level, courses, tile, xs, ys, wants) for tile in courses.repeat.tiles], axis=0)
    pieces, cuts, tiles, open_too, *wide = sums
    step = np.where(open_too - pieces > 0.5, GAP, (pieces - np.stack(wide) > 0.5).sum(axis=0))
    origins = np.stack(np.meshgrid(xs, ys, indexing="ij"), axis=-1).reshape(-1, 2)
    looks = (_imbalance(level, courses, xs, ys), _cut_at(threshold, courses, xs, ys))
    tiles, pieces, cuts, imbalance, entrance = (each.ravel() for each in (tiles, pieces, cuts, *looks))
    return Tried(origins, step.ravel(), tiles, pieces, cuts, imbalance, entrance)


def _of_tile(level: LevelField, courses: Courses, tile: Ring, xs: Floats, ys: Floats, wants: Wants) -> Floats:
    """Sums over one tile of the cell, [sum, x, y]: pieces, cuts, tiles, pieces with those that only the
    joint may take up, and those of at least each of SHARES."""
    repeat = courses.repeat
    (x0, y0), (x1, y1) = np.min(tile, axis=0).tolist(), np.max(tile, axis=0).tolist()
    starts = (xs[:, None] + courses.shifts + x0).ravel()
    across = spans(level.xs, x1 - x0, repeat.step_x, starts)
    along = spans(level.ys, y1 - y0, repeat.step_y, ys + y0, courses.classes)
    found = tables(level, across, along)
    across, along, found = _only_used(across, along, found)
    size = (x1 - x0, y1 - y0)
    least = wants.least(size)
    x, y = (_weights(axis, side, least, wants) for axis, side in zip((across, along), size, strict=True))
    x = x.reshape(len(x), len(xs), courses.classes, -1)
    results = [_product(x[0], found.cuts, y[0])]
    results += [_product(a, found.pieces, b) for a, b in zip(x, y, strict=True)]
    return np.stack([results[1], results[0], *results[2:]])


def _only_used(across: Spans, along: Spans, found: Tables) -> tuple[Spans, Spans, Tables]:
    """Without parts that make no piece."""
    i, j = np.flatnonzero(found.pieces.any(axis=1)), np.flatnonzero(found.pieces.any(axis=0))
    return across.only(i), along.only(j), Tables(found.pieces[i][:, j], found.cuts[i][:, j])


def _weights(axis: Spans, side: float, least: float, wants: Wants) -> Floats:
    """How often each part occurs, [sum, start, class, part], by what is summed."""
    width = axis.widths
    laid = width >= least
    open_too = laid | (width > wants.joint + TOLERANCE)
    shares = (laid & (width >= (share - NEAR_SHARE) * side) for share in SHARES)
    weights = np.stack([laid, laid * wants.load(width, side), open_too, *shares])
    return np.asarray(weights[:, :, None, :] * axis.counts)


def _product(x: Floats, table: Floats, y: Floats) -> Floats:
    """Sum over classes and parts: [start, class, part] of x by [part, part] by [start, class, part] of y."""
    return np.asarray((x @ table).reshape(len(x), -1) @ y.reshape(len(y), -1).T)


def _imbalance(level: LevelField, courses: Courses, xs: Floats, ys: Floats) -> Floats:
    """By how much of a tile the pieces at opposite ends of the field differ, along x and y together."""
    repeat, tile = courses.repeat, np.asarray(courses.repeat.tiles[0])
    (x0, y0), (x1, y1) = tile.min(axis=0).tolist(), tile.max(axis=0).tolist()
    starts = xs[:, None] + courses.shifts + x0
    across, along = level.ends
    x = end_difference(across, x1 - x0, repeat.step_x, starts).mean(axis=1)
    y = end_difference(along, y1 - y0, repeat.step_y, ys + y0)
    return np.asarray(np.abs(x)[:, None] + np.abs(y))


def _cut_at(threshold: Threshold | None, courses: Courses, xs: Floats, ys: Floats) -> Floats:
    """The share of courses that are cut along a threshold: no tile begins or ends there."""
    cut = np.zeros((2, max(len(xs), len(ys))))
    if threshold:
        repeat, tile = courses.repeat, np.asarray(courses.repeat.tiles[0])
        pitch, low = (repeat.step_x, repeat.step_y)[threshold.axis], tile.min(axis=0)[threshold.axis]
        size = float(np.ptp(tile, axis=0)[threshold.axis])
        shifts = courses.shifts if threshold.axis == 0 else np.zeros(1)
        starts = (xs, ys)[threshold.axis][:, None] + shifts + low
        past = (threshold.place - starts) % pitch
        inside = (past > TOLERANCE) & (past < size - TOLERANCE)
        cut[threshold.axis, : len(starts)] = inside.mean(axis=1)
    return np.asarray(cut[0, : len(xs), None] + cut[1, : len(ys)])


def end_difference(ends: Point, size: float, pitch: float, starts: Floats) -> Floats:
    """The first piece less the last one between the field's ends, as a share of the tile."""
    first = size - (ends[0] - starts + TOLERANCE) % pitch
    last = (ends[1] - starts - TOLERANCE) % pitch
    begun, ended = (np.where(width > 0, np.minimum(width, size), size) for width in (first, last))
    return np.asarray((begun - ended) / size)
