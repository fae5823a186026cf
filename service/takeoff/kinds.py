"""Cut pieces that are alike, and the places in a tile that each kind can be cut from.

A piece is cut from its tile in the direction in which it lies on the floor, or turned; never turned over.
A side that must be a factory side lies on a side of the tile. A piece with two neighbouring factory sides
therefore has one place for each turn; any other can be moved, and what it shares a tile with it shares when
pushed into a corner of its reach, if both are convex (the places where two convex bodies meet are convex,
so that they can be kept apart exactly where they can be at a corner of the reach).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt
import shapely
from shapely import LineString, Polygon

from service.takeoff.guillotine import BOTTOM, LEFT, RIGHT, TOP, Box
from service.takeoff.rings import TOLERANCE
from service.takeoff.room import Point

CORNERS = (LEFT | BOTTOM, BOTTOM | RIGHT, RIGHT | TOP, TOP | LEFT)
"""A tile's corners by the two sides that meet there, anticlockwise."""

Geometries = npt.NDArray[np.object_]
Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class TileSize:
    """The bounding box of the tile that pieces are cut from [mm], and the tile's own area [mm2]. A tile that
    is no rectangle is a regular hexagon. A directional tile's offcuts are not turned."""

    length: float
    width: float
    area: float
    rectangular: bool = True
    directional: bool = False

    @property
    def box(self) -> Box:
        return Box(self.length, self.width)

    @property
    def middle(self) -> Point:
        return (self.length / 2, self.width / 2)

    @property
    def step(self) -> int:
        """The least turn about the middle that lays the tile onto itself and that is allowed [degrees]."""
        if self.directional:
            return 360
        if not self.rectangular:
            return 60
        return 90 if abs(self.length - self.width) <= TOLERANCE else 180


@dataclass(frozen=True, slots=True)
class Piece:
    """A cut piece: its box along the tile's axes with the sides that must be factory sides [mm], its area
    [mm2], and, unless it fills its box, its outline with the tile's low corner at zero."""

    box: Box
    area: float
    outline: Polygon | None = None


@dataclass(frozen=True, slots=True)
class Kind:
    """Pieces alike: their box, area and outline as of one piece; `members` are their numbers."""

    box: Box
    area: float
    outline: Polygon
    square: bool
    fixed: bool  # has one place for each turn
    convex: bool  # can be kept clear of others at a corner of its reach; not told of pieces of a hexagon
    held: int  # corners of its box, as bits, that must be the tile's
    members: tuple[int, ...]

    @property
    def corners(self) -> int:
        """Of the tile that one piece takes."""
        return self.held.bit_count()


@dataclass(frozen=True)
class Places:
    """Places that kinds may have in a tile, but for turns that lay the tile onto itself: of each its kind,
    its own turn [degrees], the tile's corners that it takes, as bits, and the outline there."""

    kind: Ints
    turn: Ints
    corners: Ints
    outlines: Geometries


def kinds_of(pieces: Sequence[Piece], tile: TileSize) -> list[Kind]:
    """The pieces by kind, the largest first."""
    alike: dict[object, list[int]] = defaultdict(list)
    for i, key in enumerate(_keys(pieces)):
        alike[key].append(i)
    kinds = [_kind(pieces[members[0]], tile, tuple(members)) for members in alike.values()]
    return sorted(kinds, key=lambda kind: (-round(kind.area), kind.members))


def _keys(pieces: Sequence[Piece]) -> Iterator[object]:
    """Equal for pieces alike: sizes and outlines in thousandths of a millimetre."""
    sizes = _steps(np.array([(piece.box.length, piece.box.width) for piece in pieces])).tolist()
    odd = np.array([piece.outline for piece in pieces if piece.outline is not None], object)
    forms = iter(shapely.to_wkb(shapely.normalize(shapely.transform(odd, _steps))).tolist())
    return (
        (*size, piece.box.sides, piece.outline and next(forms))
        for size, piece in zip(sizes, pieces, strict=True)
    )


def _steps(lengths: Floats) -> Floats:
    """Rounded off the middle between two steps, where sizes in parts of an inch lie."""
    return np.floor(lengths / TOLERANCE + 0.37) + 0.0


def _kind(piece: Piece, tile: TileSize, members: tuple[int, ...]) -> Kind:
    box, outline = piece.box, piece.outline
    if outline is None:
        fixed = _meet(box.sides)
        corners = _held(box.sides)
        whole = shapely.box(0, 0, box.length, box.width)
        return Kind(box, piece.area, whole, True, fixed, True, corners, members)
    if not tile.rectangular:
        return Kind(box, piece.area, outline, False, _in_place(outline, tile), False, 0, members)
    convex = outline.convex_hull.area - outline.area <= TOLERANCE * outline.length
    corners = _reached(outline, box)
    fixed = _meet(box.sides) or _fills(box, tile)
    return Kind(box, piece.area, outline, False, fixed, convex, corners, members)


def _meet(sides: int) -> bool:
    """Whether two factory sides are neighbours."""
    return any(sides & corner == corner for corner in CORNERS)


def _fills(box: Box, tile: TileSize) -> bool:
    return min(box.length - tile.length, box.width - tile.width) >= -TOLERANCE


def _in_place(outline: Polygon, tile: TileSize) -> bool:
    """Whether a piece of a hexagon lies on two of its sides that are not parallel."""
    rim = hexagon(tile.length, tile.width)
    sides = (LineString(side) for side in pairwise(rim.exterior.coords))
    on = [
        i
        for i, side in enumerate(sides)
        if outline.boundary.intersection(side.buffer(2 * TOLERANCE)).length > 1
    ]
    return len({i % 3 for i in on}) > 1


def hexagon(length: float, width: float) -> Polygon:
    """The regular hexagon of this box, flats left and right."""
    x, y = length / 2, width / 4
    return Polygon([(x, 0), (length, y), (length, 3 * y), (x, width), (0, 3 * y), (0, y)])


def _held(sides: int) -> int:
    """Corners between two factory sides, as bits."""
    return sum(1 << i for i, corner in enumerate(CORNERS) if sides & corner == corner)


def _reached(outline: Polygon, box: Box) -> int:
    """Those that the outline reaches: a corner may be cut off."""
    points = shapely.get_coordinates(outline)
    low, high = points.min(axis=0), points.max(axis=0)
    corners = np.array([low, (high[0], low[1]), high, (low[0], high[1])])
    near = np.abs(points[:, None, :] - corners).max(axis=2).min(axis=0) <= 2 * TOLERANCE
    return _held(box.sides) & sum(1 << i for i, there in enumerate(near.tolist()) if there)


def places_of(kinds: Sequence[Kind], tile: TileSize) -> Places:
    """All places of all kinds, kind by kind and turn by turn."""
    outlines = np.array([kind.outline for kind in kinds], object)
    turned = shapely.transform(outlines, lambda points: points[:, ::-1] * (-1.0, 1.0))
    ways = [way for number, kind in enumerate(kinds) for way in _ways(kind, number, tile)]
    rows = np.array([(number, turn, corners) for number, turn, corners, _ in ways], np.int64).reshape(-1, 3)
    kind, turn, corners = rows.T
    moved = np.where(turn == 0, outlines[kind], turned[kind])
    if tile.rectangular:
        moved = _moved(moved, np.array([low for *_, low in ways]).reshape(-1, 2))
    return Places(kind, turn, corners, moved)


def _moved(outlines: Geometries, low: Floats) -> Geometries:
    """Outlines with the low corners of their boxes at `low`."""
    by = low - shapely.bounds(outlines).reshape(-1, 4)[:, :2]
    points, owner = shapely.get_coordinates(outlines, return_index=True)
    moved: Geometries = shapely.set_coordinates(outlines.copy(), points + by[owner])
    return moved


def _ways(kind: Kind, number: int, tile: TileSize) -> Iterator[tuple[int, int, int, Point]]:
    """Number, turn, corners and low corner of a kind's places."""
    if not tile.rectangular:
        yield number, 0, 0, (0.0, 0.0)
        return
    for turn in (0, 90) if tile.step == 180 else (0,):
        box = kind.box.turned() if turn else kind.box
        corners = (kind.held << 1 | kind.held >> 3) & 15 if turn else kind.held
        for x in _reach(box.length, tile.length, box.sides & LEFT, box.sides & RIGHT):
            for y in _reach(box.width, tile.width, box.sides & BOTTOM, box.sides & TOP):
                yield number, turn, corners, (x, y)


def _reach(side: float, whole: float, low: int, high: int) -> tuple[float, ...]:
    """Where a piece may begin along an axis, at its furthest; nowhere if it does not fit."""
    over = whole - side
    if over < -2 * TOLERANCE or (low and high and over > 2 * TOLERANCE):
        return ()
    if low or over <= TOLERANCE:
        return (0.0,)
    return (over,) if high else (0.0, over)
