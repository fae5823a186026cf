"""The starts worth trying.

Along an axis counts change only where an edge of the field meets the end of a tile, and the criteria also
where a piece reaches a width that matters, or where opposite pieces are equal. So right-angled fields under
level courses of one tile are searched completely by those starts, each taken within one pitch, unless
there are very many edges (then the longest); for cells of several tiles only half a tile is such a width.
Other fields have no such short list: their starts are the ones that put a tile's corner on the field's
corner, those that are even about its middle, and a regular sample of the cell, refined around the best.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from service.takeoff.lattice import Repeat
from service.takeoff.laying import Ground
from service.takeoff.level_counts import Courses
from service.takeoff.level_field import LevelField, middle_of
from service.takeoff.rings import TOLERANCE
from service.takeoff.room import Point, SearchKind
from service.takeoff.sweep import Floats
from service.takeoff.tried import SHARES, Wants

_MOST_LINES = 24  # edges along an axis and shifts of courses, together, that starts are fitted to
_MOST_VERTICES = 8  # of a field that is not right-angled
_SAMPLES = 6  # along each side of the cell
_REFINED = 3  # starts that are tried around again
_FEWEST = 4  # starts that are tried all the same


@dataclass(frozen=True)
class Effort:
    """How far a search goes.

    `clipped`: edges of the field times starts, beyond which further starts are not tried; `finer`: how far
    around the best of a sample more are tried, in shares of the cell; beside the plain start `laid` are laid
    out where all starts were counted, and `sampled` where counts are a rougher estimate of tiles.
    """

    clipped: int
    finer: tuple[float, ...]
    laid: int
    sampled: int

    def affordable(self, starts: Floats, ground: Ground) -> Floats:
        """The first of the starts; fewer where the field has very many edges, each of which clips tiles."""
        return starts[: max(_FEWEST, self.clipped // len(ground.segments))]


EFFORTS: Mapping[SearchKind, Effort] = {
    "full": Effort(clipped=4000, finer=(1 / 12, 1 / 24), laid=3, sampled=4),  # twice as many laid gain little
    "short": Effort(clipped=100, finer=(1 / 12,), laid=1, sampled=1),
}


def level_starts(level: LevelField, courses: Courses, plain: Point, wants: Wants) -> tuple[Floats, Floats]:
    """Along x and along y, `plain` first [mm]."""
    xs: list[Floats] = []
    ys: list[Floats] = []
    repeat, (across, along), (x_ends, y_ends) = courses.repeat, level.longest, level.ends
    shares = SHARES if len(repeat.tiles) == 1 else SHARES[:1]
    for tile in repeat.tiles:
        (x0, y0), (x1, y1) = np.min(tile, axis=0).tolist(), np.max(tile, axis=0).tolist()
        shifts = courses.shifts[: max(1, _MOST_LINES // len(level.xs))] + x0
        xs += [
            _along(across, x_ends, x1 - x0, repeat.step_x, wants, shares) - shift for shift in shifts.tolist()
        ]
        ys.append(_along(along, y_ends, y1 - y0, repeat.step_y, wants, shares) - y0)
    return (
        _distinct(plain[0], np.concatenate(xs), repeat.step_x, float(level.xs[0])),
        _distinct(plain[1], np.concatenate(ys), repeat.step_y, float(level.ys[0])),
    )


def fitted_to_all(level: LevelField, courses: Courses) -> bool:
    """Whether the starts of `level_starts` are all that can differ."""
    fitted = max(len(level.xs) * courses.classes, len(level.ys)) <= _MOST_LINES
    return fitted and len(courses.repeat.tiles) == 1


def _along(
    lines: Floats, outer: Point, size: float, pitch: float, wants: Wants, shares: Sequence[float]
) -> Floats:
    """Where a tile may begin so that something changes at one of the field's edges, or is balanced."""
    ends = (sum(outer) - size) / 2 + np.array([0.0, pitch / 2])
    near = lines[:_MOST_LINES]
    kerf = (size - wants.kerf) / 2
    widths = [0.0, size, wants.joint, wants.min_piece, kerf, *(share * size for share in shares)]
    met = [near + sign * width + by for width in widths for sign, by in ((1, -size), (-1, 0.0))]
    return np.concatenate([ends, *met])


def _distinct(plain: float, starts: Floats, pitch: float, low: float) -> Floats:
    """Within one pitch from the field's low end, those apart by more than the tolerance, `plain` first."""
    past = np.sort(np.append((starts - low) % pitch, 0.0))
    past = past[np.diff(past, prepend=-1.0) > 2 * TOLERANCE]
    away = np.abs((past + low - plain + pitch / 2) % pitch - pitch / 2) > 2 * TOLERANCE
    return np.asarray(np.append(plain, low + past[away]))


def free_starts(ground: Ground, repeat: Repeat, plain: Point, far: Point | None = None) -> Floats:
    """Rows (x, y) for a field of any shape, `plain` first; `far` is the corner opposite to it [mm]."""
    middle = middle_of(ground.field)
    fitted = [
        _even(middle, repeat),
        _around(plain, far or ground.field.bounds[2:], repeat),
        _at_corners(ground, middle, repeat),
        _sample(middle, repeat),
    ]
    starts = np.concatenate([np.array([plain]), *fitted])
    return _one_of_each(starts, repeat)


def _sample(middle: Floats, repeat: Repeat) -> Floats:
    """All over the cell, as far to one side of where a tile is even about the middle as to the other, so that
    a room and its mirror image are tried alike."""
    steps = (np.arange(_SAMPLES) + 0.5) / _SAMPLES
    tile = np.asarray(repeat.tiles[0])
    even = middle - (tile.max(axis=0) + tile.min(axis=0)) / 2
    return np.asarray(even + np.array(list(product(steps, steps))) @ cell_of(repeat))


def starts_around(best: Floats, repeat: Repeat, share: float) -> Floats:
    """Eight starts around each of the best ones, that share of the cell away."""
    about = [pair for pair in product((-share, 0.0, share), repeat=2) if any(pair)]
    return np.asarray(best[:_REFINED, None] + np.array(about) @ cell_of(repeat)).reshape(-1, 2)


def cell_of(repeat: Repeat) -> Floats:
    """The lattice's two steps as rows [mm]."""
    return np.array([[repeat.step_x, repeat.rise], [repeat.shift, repeat.step_y]])


def _even(middle: Floats, repeat: Repeat) -> Floats:
    """A tile's middle, a joint's or a crossing of joints in the middle of the field."""
    tiles = [np.asarray(tile) for tile in repeat.tiles]
    of_tiles = [(tile.max(axis=0) + tile.min(axis=0)) / 2 for tile in tiles]
    halves = np.array([(0, 0), (0.5, 0), (0, 0.5), (0.5, 0.5)]) @ cell_of(repeat)
    return np.asarray(middle - np.concatenate([of_tile + halves for of_tile in of_tiles]))


def _around(low: Point, high: Point, repeat: Repeat) -> Floats:
    """A tile in each corner of the box around the room, of which the plain start is one."""
    tile = np.asarray(repeat.tiles[0])
    first, last = np.array(low) - tile.min(axis=0), np.array(high) - tile.max(axis=0)
    return np.array(list(product((first[0], last[0]), (first[1], last[1]))))


def _at_corners(ground: Ground, middle: Floats, repeat: Repeat) -> Floats:
    """A tile's corner on a corner of the field, those farthest out first."""
    vertices = ground.segments[:, :2]
    past = np.round(vertices - middle, 3)
    order = np.lexsort((past[:, 0], past[:, 1], -np.round(np.hypot(*past.T), 2)))
    vertices = vertices[order][:_MOST_VERTICES]
    corners = np.asarray(repeat.tiles[0])
    return np.asarray((vertices[:, None] - corners).reshape(-1, 2))


def _one_of_each(starts: Floats, repeat: Repeat) -> Floats:
    """Starts that lay the same lattice once, the first of them."""
    cells = np.round((starts - starts[0]) @ np.linalg.inv(cell_of(repeat)), 6) % 1.0
    _, first = np.unique(cells, axis=0, return_index=True)
    return starts[np.sort(first)]
