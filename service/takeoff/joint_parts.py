"""The field parted by movement joints until no part is too long, too wide or too large for where it lies.

Parts that are too large are opened in this order: around a zone of stricter limits, so that these hold for
the zone's part only; from an inner corner, where cracks start [common practice]; then evenly.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import ceil, degrees, floor, inf

from shapely import LineString, Polygon, union_all
from shapely import Point as ShapelyPoint
from shapely.geometry.base import BaseGeometry

from service.takeoff.answer import Layout
from service.takeoff.boundary import joined as around
from service.takeoff.boundary import turn
from service.takeoff.geometry import FloorShape
from service.takeoff.joint_cuts import (
    Cut,
    Line,
    ends,
    joined,
    line_across,
    net,
    room_line,
    sides,
    slit,
    spans_on,
)
from service.takeoff.joint_lines import NOISE, Grid, Limit, divided, grout_grids, on_grout
from service.takeoff.rings import polygons
from service.takeoff.room import Point, Room
from service.takeoff.sections import Span, main_direction, turned, turned_point

LEAST_TURN_DEG = 30.0
"""A corner that turns by less is a facet of something round."""
SAWN_AS_LONG = 2.0
"""A joint along grout joints is preferred to one that saws tile up to this many times its length."""
MOST_CORNERS = 40
"""A part with more inner corners is first parted evenly, so that no outline takes long."""
TOUCH_MM2 = 1e3
"""A zone that shares less with a part does not rule it."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What holds everywhere, and what holds for parts that lie in a zone."""

    base: Limit
    zones: tuple[tuple[BaseGeometry, Limit], ...] = ()

    def of(self, part: BaseGeometry) -> Limit:
        """The strictest of all that hold for a part."""
        met = [self.base, *(limit for zone, limit in self.zones if _meets(zone, part))]
        tightest = min(met, key=lambda limit: limit.spacing_mm)
        return replace(tightest, area_m2=min(limit.area_m2 for limit in met))

    def turned(self, angle: float) -> Limits:
        return replace(self, zones=tuple((turned(zone, angle), limit) for zone, limit in self.zones))


@dataclass(frozen=True, slots=True)
class FieldJoints:
    """Joint lines [room coordinates, mm], what they leave, and whether all lines follow grout joints."""

    lines: tuple[Line, ...]
    widest_mm: float
    along_grout: bool
    parts: int = 1
    largest_m2: float = 0.0
    sawn: tuple[Line, ...] = ()  # those that follow no grout joint


def field_joints(
    room: Room, shape: FloorShape, layout: Layout, limits: Limits, least_share: float
) -> FieldJoints:
    """Joints along and across the longest wall.

    `least_share`: from an inner corner no part thinner than this share of the spacing is parted off.
    """
    angle = main_direction(shape)
    level = turned(shape.field, -angle)
    grids = grout_grids(room, layout, angle)
    corners = tuple(turned_point(corner, -angle) for corner in inner_corners(shape))
    reach = 2 * room.perimeter_joint + max((grid.pitch for grid in grids if grid), default=1.0)
    parting = Parting(limits.turned(-angle), grids, corners, reach, least_share)
    parts, cuts = parting.parted(polygons(level))
    on = {True: list[Line](), False: list[Line]()}
    for cut in joined(cuts):
        follows = on_grout(grids[cut.axis], cut.at)
        on[follows] += (room_line(cut, span, angle) for span in cut.spans)
    return FieldJoints(
        lines=(*on[True], *on[False]),
        widest_mm=max(max(sides(part)) for part in parts),
        along_grout=not on[False],
        parts=len(parts),
        largest_m2=max(part.area for part in parts) / 1e6,
        sawn=tuple(on[False]),
    )


def inner_corners(shape: FloorShape) -> Iterator[Point]:
    """Corners of walls and open edges that stick out into the floor [mm]."""
    for ring in (ring for rings in shape.boundary for ring in rings):
        for before, after in around(ring):
            sides = {before.kind, after.kind} <= {"wall", "open", "doorway"}
            if sides and degrees(turn(before, after)) < -LEAST_TURN_DEG:
                yield after.start


@dataclass(frozen=True, slots=True)
class Parting:
    """How parts are opened, in coordinates along the main direction."""

    limits: Limits
    grids: tuple[Grid | None, Grid | None]
    corners: tuple[Point, ...]
    reach: float
    least_share: float

    def parted(self, parts: Iterable[Polygon]) -> tuple[list[Polygon], list[Cut]]:
        """Parts within their limits, and the joints between them."""
        done, cuts = list[Polygon](), list[Cut]()
        for part in parts:
            pieces, made = self._opened(part)
            cuts += made
            if len(pieces) > 1:
                pieces, further = self._past(made).parted(pieces)
                cuts += further
            done += pieces
        return done, cuts

    def _opened(self, part: Polygon) -> tuple[list[Polygon], list[Cut]]:
        limit = self.limits.of(part)
        if _within(part, limit):
            return [part], []
        return (
            self._around_a_zone(part, limit) or self._from_a_corner(part, limit) or self._evenly(part, limit)
        )

    def _past(self, cuts: Sequence[Cut]) -> Parting:
        """The same for what these joints leave, where corners that they pass are no longer inner ones."""
        lines = union_all([LineString(ends(cut, span)) for cut in cuts for span in cut.spans])
        left = (corner for corner in self.corners if lines.distance(ShapelyPoint(corner)) > self.reach)
        return replace(self, corners=tuple(left))

    def _around_a_zone(self, part: Polygon, limit: Limit) -> tuple[list[Polygon], list[Cut]] | None:
        """The line beside a zone that frees most of the part from its limits."""
        best, freed = None, 0.0
        for zone, strict in self.limits.zones:
            if not _meets(zone, part) or strict == self.limits.base:
                continue
            for cut in self._beside(part, zone):
                pieces = slit(part, [cut])
                free = sum(piece.area for piece in pieces if not _meets(zone, piece))
                if free > freed and self._worth(pieces, cut, limit):
                    best, freed = (pieces, [cut]), free
        return best

    def _beside(self, part: Polygon, zone: BaseGeometry) -> Iterator[Cut]:
        left, low, right, high = zone.intersection(part).bounds
        for axis, limits in enumerate(((left, right), (low, high))):
            for end, outward in zip(limits, (floor, ceil), strict=True):
                grid = self.grids[axis]
                at = grid.start + outward((end - grid.start) / grid.pitch) * grid.pitch if grid else end
                yield line_across(part, axis, at)

    def _from_a_corner(self, part: Polygon, limit: Limit) -> tuple[list[Polygon], list[Cut]] | None:
        """The joint from an inner corner that leaves least to be parted, then the shortest."""
        best, least = None, (inf, inf)
        for chord in self._chords(part):
            for cut in (chord, line_across(part, chord.axis, chord.at)):
                pieces = slit(part, [cut])
                if not self._worth(pieces, chord, limit):
                    continue
                rank = (sum(_wanted(piece, limit) for piece in pieces), self._cost(cut))
                best, least = ((pieces, [cut]), rank) if rank < least else (best, least)
                break
        return best

    def _chords(self, part: Polygon) -> Iterator[Cut]:
        near_by = [at for at in self.corners if part.distance(ShapelyPoint(at)) <= self.reach]
        for corner in near_by if len(near_by) <= MOST_CORNERS else ():
            for axis in (0, 1):
                for at in self._places(axis, corner[axis]):
                    beside = corner[1 - axis]
                    spans = spans_on(part, axis, at)
                    near = min(spans, key=lambda span: _gap(span, beside), default=None)
                    if near and _gap(near, beside) <= self.reach:
                        yield Cut(axis, at, (near,))

    def _places(self, axis: int, at: float) -> tuple[float, ...]:
        grid = self.grids[axis]
        if grid is None:
            return (at,)
        step = (at - grid.start) / grid.pitch
        return tuple(grid.start + whole * grid.pitch for whole in (floor(step), ceil(step)))

    def _cost(self, cut: Cut) -> float:
        return cut.length * (1.0 if on_grout(self.grids[cut.axis], cut.at) else SAWN_AS_LONG)

    def _worth(self, pieces: Sequence[Polygon], cut: Cut, limit: Limit) -> bool:
        """Whether no piece is but a strip along the joint."""
        least = min(self.least_share * limit.spacing_mm, cut.length / 2)
        return len(pieces) > 1 and all(sides(piece)[cut.axis] >= least for piece in pieces)

    def _evenly(self, part: Polygon, limit: Limit) -> tuple[list[Polygon], list[Cut]]:
        left, low, right, high = part.bounds
        area = limit.area_m2 < inf
        across, along = divided(
            ((left, right), (low, high)),
            limit,
            self.grids,
            (lambda *at: max(piece.area for piece in slit(part, net(part, *at)))) if area else None,
        )
        cuts = net(part, across, along)
        return slit(part, cuts), cuts


def _gap(span: Span, at: float) -> float:
    return max(span[0] - at, at - span[1], 0.0)


def _wanted(part: BaseGeometry, limit: Limit) -> int:
    """How many parts this one must become at least, by its box."""
    across, along = (ceil(side / limit.spacing_mm - NOISE) for side in sides(part))
    return across * along


def _within(part: BaseGeometry, limit: Limit) -> bool:
    over = 1 + NOISE
    return max(sides(part)) <= limit.spacing_mm * over and part.area / 1e6 <= limit.area_m2 * over


def _meets(zone: BaseGeometry, part: BaseGeometry) -> bool:
    return bool(zone.intersection(part).area > TOUCH_MM2)
