"""Tile laid on a field from one origin: whole tiles, cut pieces, and slivers that are not laid."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
import shapely
from shapely import MultiPolygon, Polygon

from service.takeoff.lattice import UPRIGHT, Repeat, Turn
from service.takeoff.rings import TOLERANCE
from service.takeoff.room import Point, Ring
from service.takeoff.sweep import Floats, Positions, corners_at, segments_of, sweep

Geometries = npt.NDArray[np.object_]
_POLYGON = 3  # type number of the simple features standard
LEAST_NICK = 1.0
"""A corner nicked off by less is not sawn [mm2]: no tile is that true, and the joint takes it up."""
_MANY_EDGES = 48  # of a field, from which tiles are clipped by the part around them
_EDGES_A_WINDOW = 8  # or so; each window reaches over the next, so that a tile lies in one


@dataclass(frozen=True)
class Ground:
    """A field turned to the tile's axes, with its edges as an array [mm]."""

    field: Polygon | MultiPolygon
    turn: Turn = UPRIGHT

    @classmethod
    def of(cls, field: Polygon | MultiPolygon, turn: Turn) -> Ground:
        """Of a field in room coordinates."""
        return cls(turn.to_tile(field), turn)

    @cached_property
    def segments(self) -> Floats:
        return segments_of(self.field)

    @cached_property
    def rim(self) -> shapely.Geometry:
        """The field's edge, thick enough to meet what lies on it but for rounding."""
        rim = shapely.buffer(self.field.boundary, 2 * TOLERANCE, quad_segs=1)
        shapely.prepare(rim)
        return rim

    def around(self, tiles: Geometries) -> shapely.Geometry | Geometries:
        """The field; where it has many edges, the part around each tile, to be clipped sooner."""
        if len(self.segments) <= _MANY_EDGES or len(tiles) == 0:
            return self.field
        box = shapely.bounds(tiles)
        reach = box[:, 2:] - box[:, :2]
        extent = self.segments.reshape(-1, 2)
        fine = float(np.ptp(extent, axis=0).max()) * _EDGES_A_WINDOW / len(self.segments)
        size = max(float(reach.max()), fine)
        cells, which = np.unique(
            np.floor((box[:, :2] - extent.min(axis=0)) / size), axis=0, return_inverse=True
        )
        low = extent.min(axis=0) + cells * size
        y0, y1 = extent[:, 1].min(), extent[:, 1].max()
        lefts, column = np.unique(low[:, 0], return_inverse=True)
        columns = shapely.intersection(self.field, shapely.box(lefts, y0, lefts + 2 * size, y1))
        windows = shapely.box(low[:, 0], low[:, 1], low[:, 0] + 2 * size, low[:, 1] + 2 * size)
        return np.asarray(shapely.intersection(columns[column], windows))[which.ravel()]


@dataclass(frozen=True)
class LaidTiles:
    """What comes of one tile of the cell. `corners` are the low corners of the tile that each cut piece is
    cut from; `outlines`, `bounds` and `areas` are those of the pieces, in the tile's axes [mm, mm2]."""

    tile: Ring
    whole: Positions
    cut: Positions
    corners: Floats
    outlines: Geometries
    bounds: Floats
    areas: Floats
    slivers: int
    sliver_width: float  # of the widest
    sliver_area: float

    @property
    def size(self) -> Point:
        """Length and width of the tile's bounding box [mm]."""
        (x0, y0), (x1, y1) = np.min(self.tile, axis=0), np.max(self.tile, axis=0)
        return (float(x1 - x0), float(y1 - y0))

    @property
    def sides(self) -> Floats:
        """Length and width of each cut piece along the tile's axes."""
        return self.bounds[:, 2:] - self.bounds[:, :2]

    @cached_property
    def whole_area(self) -> float:
        return float(Polygon(self.tile).area)

    @cached_property
    def square(self) -> npt.NDArray[np.bool_]:
        """Which cut pieces are rectangles along the tile's axes."""
        sides = self.sides
        if not is_rectangle(self.tile):
            return np.zeros(len(sides), np.bool_)
        return np.asarray(np.abs(sides.prod(axis=1) - self.areas) <= TOLERANCE * sides.sum(axis=1))

    @cached_property
    def held(self) -> npt.NDArray[np.bool_]:
        """Of each cut piece which sides of its box (left, bottom, right, top) lie on its tile's box."""
        tile = np.hstack([self.corners, self.corners + np.array(self.size)])
        return np.asarray(np.abs(self.bounds - tile) <= 2 * TOLERANCE)

    @property
    def area(self) -> float:
        """Of all laid pieces [mm2]."""
        return len(self.whole) * self.whole_area + math.fsum(self.areas)

    @property
    def narrowest(self) -> float:
        """The smaller side of the narrowest laid piece [mm], infinite where none is laid."""
        sides = [min(self.size)] if len(self.whole) else []
        return min([*sides, *self.sides.min(axis=1).tolist()], default=math.inf)

    @property
    def narrowest_share(self) -> float:
        """The same as a share of the tile's side."""
        return float((self.sides / self.size).min(initial=1.0))

    def takes_tiles_alone(self, kerf: float) -> bool:
        """Whether each piece is a rectangle over half its tile both ways, so that no two come from one tile.

        Two rectangles in a tile lie beside or above one another, the kerf between. A quarter turn helps
        neither in a square tile nor in one over twice as long as wide, where such a piece fits no more.
        """
        short, long = sorted(self.size)
        turns_alike = long - short <= TOLERANCE or long >= 2 * short + kerf
        over_half = self.sides > (np.array(self.size) - kerf) / 2 + TOLERANCE
        return bool(turns_alike and self.square.all() and over_half.all())

    @property
    def cut_positions(self) -> int:
        return len(set(zip(self.cut.rows.tolist(), self.cut.columns.tolist(), strict=True)))


def lay(ground: Ground, repeat: Repeat, origin: Point, min_piece: float) -> tuple[LaidTiles, ...]:
    """Lay every tile of the cell on the field; pieces narrower than `min_piece` are not laid."""
    return tuple(_lay_one(ground, repeat, tile, origin, min_piece) for tile in repeat.tiles)


def _lay_one(ground: Ground, repeat: Repeat, tile: Ring, origin: Point, min_piece: float) -> LaidTiles:
    whole, edge = sweep(ground.segments, repeat, tile, origin)
    at = corners_at(edge, repeat, origin)
    outlines = _outlines(tile, at)
    pieces, owner = solid_parts(ground, outlines)
    bounds, areas = shapely.bounds(pieces).reshape(-1, 4), shapely.area(pieces)
    low = np.min(tile, axis=0)
    least = min(min_piece, *(np.max(tile, axis=0) - low).tolist())
    narrow = (bounds[:, 2:] - bounds[:, :2]).min(axis=1, initial=math.inf)
    as_whole = _barely_nicked(pieces, areas, tile)
    laid = (narrow >= least - TOLERANCE) & ~as_whole
    left_out = ~laid & ~as_whole
    return LaidTiles(
        tile=tile,
        whole=whole.plus(edge.at(owner[as_whole])),
        cut=edge.at(owner[laid]),
        corners=at[owner[laid]] + low,
        outlines=pieces[laid],
        bounds=bounds[laid],
        areas=areas[laid],
        slivers=int(left_out.sum()),
        sliver_width=float(narrow[left_out].max(initial=0.0)),
        sliver_area=math.fsum(areas[left_out]),
    )


def _barely_nicked(pieces: Geometries, areas: Floats, tile: Ring) -> npt.NDArray[np.bool_]:
    """Which pieces are their tile but for the tip of a corner."""
    nicked = areas > Polygon(tile).area - LEAST_NICK
    nicked &= shapely.get_num_coordinates(pieces) > len(tile) + 1
    hulls = shapely.area(shapely.convex_hull(pieces[nicked]))
    nicked[nicked] = hulls - areas[nicked] <= TOLERANCE
    return np.asarray(nicked)


def _outlines(tile: Ring, at: Floats) -> Geometries:
    """The tile at each of some places."""
    rings = np.asarray(tile)[None, :, :] + at[:, None, :]
    return np.asarray(shapely.polygons(rings)) if len(at) else np.array([], object)


def is_rectangle(tile: Ring | Floats) -> bool:
    """Whether a convex tile fills its box."""
    return len(tile) == 4


def solid_parts(ground: Ground, tiles: Geometries) -> tuple[Geometries, npt.NDArray[np.int64]]:
    """The parts of each tile on the field that are more than noise, and the tile that each is part of."""
    parts, owner = shapely.get_parts(shapely.intersection(ground.around(tiles), tiles), return_index=True)
    solid = shapely.get_type_id(parts) == _POLYGON
    solid &= shapely.area(parts) > TOLERANCE * shapely.length(parts) / 2
    return parts[solid], owner[solid]


def largest_part(field: Polygon | MultiPolygon) -> Polygon:
    """The largest polygon of a field."""
    parts: list[Polygon] = shapely.get_parts(field).tolist()
    return max(parts, key=lambda part: round(part.area, 3))


def total_area(laid: Sequence[LaidTiles]) -> float:
    """Of all laid pieces [mm2]."""
    return math.fsum(each.area for each in laid)


def count_pieces(laid: Sequence[LaidTiles]) -> int:
    """Of all laid pieces, whole and cut."""
    return sum(len(each.whole) + len(each.cut) for each in laid)


def narrowest_share(laid: Sequence[LaidTiles], joint: float) -> float:
    """Of all pieces; 0 where a sliver is left that is wider than the joint."""
    gaps = any(each.sliver_width > joint + TOLERANCE for each in laid)
    return 0.0 if gaps else min(each.narrowest_share for each in laid)
