"""Many convex tiles clipped by straight edges at once, as arrays of corners."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from service.takeoff.rings import TOLERANCE
from service.takeoff.sweep import Floats


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


def clipped(polygons: Floats, edges: Floats) -> Floats:
    """Convex polygons [n, corner, 2], each with what lies on the right of its edge cut away.

    Each corner gives two: one that stays itself twice, one that goes the point where the outline leaves
    the left side and, for the last that goes, the point where it comes back. So some corners coincide; a
    polygon wholly on the right shrinks to a point.
    """
    depth = cross((edges[:, 2:] - edges[:, :2])[:, None, :], polygons - edges[:, None, :2])
    onward = np.roll(depth, -1, axis=1)
    leaving, entering = (depth >= 0) & (onward < 0), (depth < 0) & (onward >= 0)
    leaves = _crossing(polygons, depth, onward, leaving)[:, None, :]
    enters = _crossing(polygons, depth, onward, entering)[:, None, :]
    first = np.where((depth >= 0)[:, :, None], polygons, leaves)
    second = np.where(entering[:, :, None], enters, first)
    return np.stack([first, second], axis=2).reshape(len(polygons), -1, 2)


def _crossing(polygons: Floats, depth: Floats, onward: Floats, here: npt.NDArray[np.bool_]) -> Floats:
    """Where each polygon's outline crosses its edge, at the side marked; its first corner where none is."""
    n, i = np.arange(len(polygons)), here.argmax(axis=1)
    a, b = depth[n, i], onward[n, i]
    share = np.where(here.any(axis=1), a / np.where(a == b, 1.0, a - b), 0.0)[:, None]
    return np.asarray(polygons[n, i] * (1 - share) + np.roll(polygons, -1, axis=1)[n, i] * share)


def areas(polygons: Floats) -> Floats:
    """[mm2], by the shoelace formula about each one's first corner."""
    spokes = polygons - polygons[:, :1]
    return np.asarray(cross(spokes[:, :-1], spokes[:, 1:]).sum(axis=1) / 2)


def sides(polygons: Floats) -> Floats:
    """Length and width of their boxes [n, 2]."""
    return np.asarray(polygons.max(axis=1) - polygons.min(axis=1))
