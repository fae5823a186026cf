"""The ground that is sealed where only a dry room's wet zones are: what of seams and walls lies on it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import fsum

from shapely import LineString, Polygon, union_all
from shapely import Point as ShapelyPoint
from shapely.geometry.base import BaseGeometry

from service.takeoff.answer import MembraneLayout, Waterproofing
from service.takeoff.boundary import corner_points
from service.takeoff.geometry import FloorShape
from service.takeoff.rings import TOLERANCE
from service.takeoff.room import ObstructionKind, Point, Room
from service.trade.values import TradeValues

MM_PER_M = 1000.0


@dataclass(frozen=True, slots=True)
class SealedGround:
    """The wet zones and a band's leg around them [mm in the room]."""

    ground: BaseGeometry
    floor_m2: float

    def measure(self, room: Room, shape: FloorShape, membrane: MembraneLayout | None) -> Waterproofing:
        """Band over the seams and wall bases on this ground, its corners, door jambs and seals."""
        rings = [ring for polygon in shape.boundary for ring in polygon]
        walls = [(part.start, part.end) for ring in rings for part in ring if part.restrained]
        inside, outside = corner_points(rings)
        jambs = [jamb for opening in shape.openings for jamb in (opening.start, opening.end)]
        along_walls = self._metres(walls)
        return Waterproofing(
            band_length_m=along_walls + self._metres(membrane.seams if membrane else ()),
            wall_band_m=along_walls,
            inside_corners=self._count(inside),
            outside_corners=self._count(outside) + self._count(jambs),
            pipe_seals=self.seals("pipe", room, shape),
            drain_seals=self.seals("drain", room, shape),
        )

    def _metres(self, lines: Iterable[tuple[Point, Point]]) -> float:
        return fsum(LineString(line).intersection(self.ground).length for line in lines) / MM_PER_M

    def _count(self, points: Iterable[Point]) -> int:
        return sum(self.ground.covers(ShapelyPoint(point)) for point in points)

    def seals(self, kind: ObstructionKind, room: Room, shape: FloorShape) -> int:
        """Pipes or drains that stand on it."""
        stands = zip(room.obstructions, shape.obstructions, strict=True)
        return sum(each.kind == kind and self.ground.intersects(place) for each, place in stands)


def sealed_ground(room: Room, shape: FloorShape, values: TradeValues) -> SealedGround:
    """The zones that are not dry, grown by a band's leg: a band runs on past the zone by its lap.

    The wall that a zone is drawn short of by less than the leg is sealed with it.
    """
    zones = union_all([Polygon(zone.outline) for zone in room.zones if zone.exposure != "dry"])
    grown = zones.buffer(values.number("waterproofing.band_leg"), join_style="mitre")
    floor = shape.floor.intersection(grown)
    return SealedGround(grown.buffer(TOLERANCE, join_style="mitre"), floor.area / 1e6)
