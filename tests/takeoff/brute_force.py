"""A floor counted by clipping every tile with shapely, one and all; it shares no code with the take-off."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, Polygon, affinity

from service.takeoff.answer import Layout
from service.takeoff.room import Point, Room

TOLERANCE = 1e-3


@dataclass(frozen=True)
class Counted:
    whole: int
    cut: int
    pieces: int
    slivers: int
    area: float
    narrowest: float


def count(room: Room, field: Polygon | MultiPolygon, origin: Point) -> Counted:
    """Every tile of a generous lattice as a rotated shapely box, clipped one and all."""
    length, width, turn = room.tile.length, room.tile.width, room.pattern.rotation
    step_x, step_y = length + room.joint, width + room.joint
    shift = float(room.pattern.offset) * step_x
    ox, oy = origin
    x0, y0, x1, y1 = affinity.rotate(field, -turn, origin=(ox, oy)).bounds
    boxes = [
        shapely.box(x, y, x + length, y + width)
        for row in range(math.floor((y0 - oy) / step_y) - 1, math.ceil((y1 - oy) / step_y) + 1)
        for column in range(
            math.floor((x0 - ox - row * shift) / step_x) - 1, math.ceil((x1 - ox - row * shift) / step_x) + 1
        )
        for x, y in [(ox + column * step_x + row * shift, oy + row * step_y)]
    ]
    placed = [affinity.rotate(box, turn, origin=(ox, oy)) for box in boxes]
    whole = shapely.covers(field.buffer(TOLERANCE, join_style="mitre"), placed)
    parts, owner = shapely.get_parts(shapely.intersection(field, placed), return_index=True)
    solid = shapely.area(parts) > TOLERANCE * shapely.length(parts) / 2
    parts, owner = parts[solid], owner[solid]
    upright = [affinity.rotate(part, -turn, origin=(ox, oy)) for part in parts]
    hulls = shapely.area(shapely.convex_hull(parts))
    tips = (hulls > length * width - 1.0) & (hulls - shapely.area(parts) < TOLERANCE)
    corners = shapely.get_num_coordinates(parts) - 1
    whole[owner[tips & (corners > 4)]] = True  # but for the tip of a corner, under 1 mm2
    bounds = shapely.bounds(upright).reshape(-1, 4)
    sides = np.minimum(bounds[:, 2] - bounds[:, 0], bounds[:, 3] - bounds[:, 1])
    laid = sides >= min(room.min_piece, length, width) - TOLERANCE
    return Counted(
        whole=int(whole.sum()),
        cut=len({i for i in owner[laid].tolist() if not whole[i]}),
        pieces=int(laid.sum()),
        slivers=int((~laid).sum()),
        area=float(shapely.area(parts[laid & ~whole[owner]]).sum()) + int(whole.sum()) * length * width,
        narrowest=float(sides[laid].min(initial=math.inf)),
    )


def check(layout: Layout, counted: Counted) -> None:
    assert (layout.whole_tiles, layout.cut_tiles, layout.pieces, layout.unlaid_slivers) == (
        counted.whole,
        counted.cut,
        counted.pieces,
        counted.slivers,
    )
    assert layout.tiled_area_m2 * 1e6 == pytest.approx(counted.area, abs=1.0)
    if counted.pieces:
        assert layout.narrowest_piece_mm == pytest.approx(counted.narrowest, abs=TOLERANCE)
