"""How far the prepared ground stands over the substrate where the floor meets another."""

from __future__ import annotations

from shapely import LineString

from service.takeoff.edges import Opening
from service.takeoff.falls import drain_line, furthest_way_mm
from service.takeoff.geometry import FloorShape
from service.takeoff.levelling import mean_depth_mm
from service.takeoff.room import Room
from service.takeoff.waterproofing_rules import fall_mm
from service.trade.values import TradeValues


def ground_mm(room: Room, shape: FloorShape, opening: Opening, values: TradeValues) -> float:
    """Levelling compound or fall screed in a doorway [mm].

    A floor that falls to points is level along its walls, as high as the longest way to a drain wants; one
    that falls to a line stands by the doorway's own way to it.
    """
    if room.falls == "none":
        return mean_depth_mm(room, shape, values)
    way = furthest_way_mm(room, shape) if room.falls == "point" else _way_mm(room, shape, opening)
    return values.number("falls.least_depth") + fall_mm(way, values)


def _way_mm(room: Room, shape: FloorShape, opening: Opening) -> float:
    middle = LineString([opening.start, opening.end]).centroid
    return LineString(drain_line(room, shape)).distance(middle)
