"""What a tiler does to a tile to make a piece: straight and diagonal cuts, notches, holes, curves.

Sides of a piece that do not lie on its tile's outline are sawn. A run of sawn sides is parted at the
piece's outward corners, where one cut ends and the next begins; what is left between is one cut: one side
is straight or diagonal, two around an inward corner an L notch, three a U notch, more a curve. Three short
sides or more that turn a little each time, inward or outward, are the chords of one curve.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import astuple, dataclass, fields
from itertools import pairwise
from operator import attrgetter

from shapely import Polygon
from shapely.geometry.polygon import orient

from service.takeoff.answer import CutKind, Cuts
from service.takeoff.rings import TOLERANCE, polygons
from service.takeoff.room import Point, Ring

NEAR = 2 * TOLERANCE  # a side so near the tile's outline lies on it [mm]
STRAIGHT_ON = 1e-3  # sides that turn by less are one side [rad]
GENTLE = math.radians(20)
"""Chords of a curve turn by no more [rad]: so does a circle drawn with 18 corners; a bay's walls turn by 30
degrees or more and are cut one by one."""
SHORT = 0.5
"""Chords of a curve are no longer than this share of their tile: three longer ones fit in no tile, since its
diagonal is at most 1.42 of its length."""
_CUT_OF_SIDES: dict[int, CutKind] = {2: "notch_l", 3: "notch_u"}

_COUNTS = tuple(attrgetter(each.name) for each in fields(Cuts))

Side = tuple[Point, Point]


@dataclass(frozen=True, slots=True)
class Sawing:
    """The cuts of one piece and their length together [mm]."""

    cuts: Cuts
    length: float


def total(sawings: Sequence[Sawing]) -> Sawing:
    """All cuts together."""
    return Sawing(total_cuts(s.cuts for s in sawings), math.fsum(s.length for s in sawings))


def total_cuts(cuts: Iterable[Cuts]) -> Cuts:
    """Kind by kind."""
    each = list(cuts)
    return Cuts(*(sum(map(count, each)) for count in _COUNTS))


def sawing_of(piece: Polygon, tile: Sequence[Side]) -> Sawing:
    """The cuts that make `piece` from a tile of the sides `tile`, both in the same coordinates."""
    ring = orient(piece).exterior.coords[:-1]
    kinds: list[CutKind] = ["hole"] * len(piece.interiors)
    sawn: list[Side] = []
    for run in _sawn_runs(_joined_sides(ring), tile):
        kinds.append(_kind(run, tile))
        sawn += run
    around = sum(hole.length for hole in piece.interiors)
    return Sawing(_counted(kinds), math.fsum(math.dist(*side) for side in sawn) + around)


def pierced(piece: Polygon, tile: Sequence[Side], opening: Polygon, is_round: bool) -> Sawing:
    """The further cuts that let a pipe or drain through the piece: a hole, or cuts where it meets an edge."""
    if piece.contains_properly(opening):
        return Sawing(Cuts(hole=1), opening.length)
    if is_round:
        return Sawing(Cuts(curve=1), opening.exterior.intersection(piece).length)
    rest = total([Sawing(Cuts(), 0.0), *(sawing_of(p, tile) for p in polygons(piece.difference(opening)))])
    before = sawing_of(piece, tile)
    more = (max(0, a - b) for a, b in zip(astuple(rest.cuts), astuple(before.cuts), strict=True))
    return Sawing(Cuts(*more), max(0.0, rest.length - before.length))


def sides_of(tile: Ring, corner: Point) -> tuple[Side, ...]:
    """The sides of a tile whose bounding box begins at `corner`."""
    dx = corner[0] - min(x for x, _ in tile)
    dy = corner[1] - min(y for _, y in tile)
    points = [(x + dx, y + dy) for x, y in tile]
    return tuple(pairwise([*points, points[0]]))


def _counted(kinds: Sequence[CutKind]) -> Cuts:
    return Cuts(**{kind: kinds.count(kind) for kind in set(kinds)})


def _kind(cut: Sequence[Side], tile: Sequence[Side]) -> CutKind:
    if len(cut) == 3 and all(_curve_goes_on(*pair, _short(tile)) for pair in pairwise(cut)):
        return "curve"
    if len(cut) > 1:
        return _CUT_OF_SIDES.get(len(cut), "curve")
    parallel = any(abs(_turn(cut[0], side, half=True)) < STRAIGHT_ON for side in tile)
    return "straight" if parallel else "diagonal"


def _sawn_runs(sides: Sequence[Side], tile: Sequence[Side]) -> Iterator[list[Side]]:
    """Each cut as its sides in order."""
    sawn = [not _on_tile(side, tile) for side in sides]
    joined = _joined_to_last(sides, sawn, tile)
    begins = [now and not goes_on for now, goes_on in zip(sawn, joined, strict=True)]
    first = next((i for i, begin in enumerate(begins) if begin), 0)
    run: list[Side] = []
    for i in [*range(first, len(sides)), *range(first)]:
        if run and (begins[i] or not sawn[i]):
            yield run
            run = []
        if sawn[i]:
            run.append(sides[i])
    if run:
        yield run


def _joined_to_last(sides: Sequence[Side], sawn: Sequence[bool], tile: Sequence[Side]) -> list[bool]:
    """Whether one cut goes on from the side before: around an inward corner, or along a curve."""
    short, count = _short(tile), len(sides)
    both = [sawn[i - 1] and sawn[i] for i in range(count)]
    bends = [both[i] and _curve_goes_on(sides[i - 1], sides[i], short) for i in range(count)]
    curved = [bends[i] and (bends[i - 1] or bends[(i + 1) % count]) for i in range(count)]
    return [curved[i] or (both[i] and _turn(sides[i - 1], sides[i]) < 0) for i in range(count)]


def _curve_goes_on(one: Side, other: Side, short: float) -> bool:
    return abs(_turn(one, other)) <= GENTLE and max(math.dist(*one), math.dist(*other)) <= short


def _short(tile: Sequence[Side]) -> float:
    """The longest chord of a curve in this tile [mm]."""
    xs, ys = zip(*(start for start, _ in tile), strict=True)
    return float(SHORT * max(max(xs) - min(xs), max(ys) - min(ys)))


def _joined_sides(points: Sequence[tuple[float, ...]]) -> list[Side]:
    """The sides of a ring, those that run straight on as one."""
    ring = [(p[0], p[1]) for p in points]
    ring = [p for before, p in zip([ring[-1], *ring], ring, strict=False) if math.dist(before, p) > TOLERANCE]
    loop = list(zip([ring[-1], *ring], ring, [*ring[1:], ring[0]], strict=False))
    kept = [at for before, at, after in loop if abs(_turn((before, at), (at, after))) > STRAIGHT_ON]
    return list(pairwise([*kept, kept[0]]))


def _turn(one: Side, other: Side, *, half: bool = False) -> float:
    """The change of direction from one side to the other, positive to the left [rad]; by half turns alike."""
    change = _direction(other) - _direction(one)
    return math.remainder(change, math.pi if half else 2 * math.pi)


def _direction(side: Side) -> float:
    (xa, ya), (xb, yb) = side
    return math.atan2(yb - ya, xb - xa)


def _on_tile(side: Side, tile: Sequence[Side]) -> bool:
    return any(all(_off(point, line) <= NEAR for point in side) for line in tile)


def _off(point: Point, line: Side) -> float:
    """How far a point lies from the line through a tile's side [mm]."""
    (xa, ya), (xb, yb) = line
    across = (xb - xa) * (point[1] - ya) - (yb - ya) * (point[0] - xa)
    return abs(across) / math.dist(*line)
