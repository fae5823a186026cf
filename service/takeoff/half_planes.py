"""Many convex tiles clipped by straight edges at once, as arrays of corners."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from service.takeoff.rings import TOLERANCE

Floats = npt.NDArray[np.float64]


def cross(one: Floats, other: Floats) -> Floats:
    """Of vectors along the last axis."""
    return np.asarray(one[..., 0] * other[..., 1] - one[..., 1] * other[..., 0])


def runs_through(tile: Floats, at: Floats, edges: Floats) -> npt.NDArray[np.bool_]:
    """Which edges (xa, ya, xb, yb) have a part inside the tile at their place, more than the tolerance in.

    A segment from 0 to 1 is cut off at each side of the convex tile in turn (Cyrus and Beck).
    """
    sides = np.roll(tile, -1, axis=0) - tile
    inward = np.stack([-sides[:, 1], sides[:, 0]], axis=1) / np.hypot(*sides.T)[:, None]
    enters, leaves = np.zeros(len(edges)), np.ones(len(edges))
    start, run = edges[:, :2] - at, edges[:, 2:] - edges[:, :2]
    for corner, normal in zip(tile, inward, strict=True):
        depth, climb = (start - corner) @ normal - TOLERANCE, run @ normal
        with np.errstate(divide="ignore", invalid="ignore"):
            meets = -depth / climb
        enters = np.where(climb > 0, np.maximum(enters, meets), enters)
        leaves = np.where(climb < 0, np.minimum(leaves, meets), leaves)
        leaves = np.where((climb == 0) & (depth <= 0), -1.0, leaves)
    return np.asarray(enters < leaves)


def placed(tile: Floats, at: Floats) -> Floats:
    """The tile at each of some places as polygons [x or y, corner, polygon]."""
    return np.asarray(tile.T[:, :, None] + at.T[:, None, :])


def clipped(polygons: Floats, edges: Floats) -> Floats:
    """Convex polygons, each with what lies on the right of its edge cut away.

    Each corner gives two: one that stays itself twice, one that goes the point where the outline leaves
    the left side and, for the last that goes, the point where it comes back. So some corners coincide; a
    polygon wholly on the right shrinks to a point.
    """
    xa, ya, xb, yb = edges.T
    x, y = polygons
    depth = (xb - xa) * (y - ya) - (yb - ya) * (x - xa)
    onward = np.roll(depth, -1, axis=0)
    leaving, entering = (depth >= 0) & (onward < 0), (depth < 0) & (onward >= 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        crossing = polygons + depth / (depth - onward) * (np.roll(polygons, -1, axis=1) - polygons)
    leaves = np.where(leaving, crossing, 0.0).sum(axis=1, keepdims=True)
    first = np.where(depth >= 0, polygons, leaves)
    second = np.where(entering, crossing, first)
    return np.stack([first, second], axis=2).reshape(2, 2 * len(depth), len(edges))


def areas(polygons: Floats) -> Floats:
    """[mm2], by the shoelace formula about each one's first corner."""
    x, y = polygons - polygons[:, :1]
    return np.asarray((x[:-1] * y[1:] - y[:-1] * x[1:]).sum(axis=0) / 2)


def boxes(polygons: Floats) -> tuple[Floats, Floats]:
    """The low and high corners of their boxes [n, 2]."""
    return polygons.min(axis=1).T, polygons.max(axis=1).T
