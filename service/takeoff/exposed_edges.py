"""The edges of a floor that nothing covers: open edges of the room and the edges of stairs."""

from __future__ import annotations

import math
from dataclasses import dataclass

from service.takeoff.boundary import STRAIGHT_ON, Part, joined, turn
from service.takeoff.geometry import FloorShape


@dataclass(frozen=True, slots=True)
class ExposedEdge:
    """A straight edge that a profile closes: length [mm], where it is, how many of its ends are mitred for
    want of a corner piece."""

    length: float
    place: str
    mitred_ends: int


@dataclass(frozen=True, slots=True)
class Exposed:
    """The exposed edges with their corner pieces and end caps."""

    edges: tuple[ExposedEdge, ...]
    corners: int
    caps: int


def exposed(shape: FloorShape) -> Exposed:
    """Edge by edge around the floor.

    Two edges that meet at a right angle take a corner piece, at any other they are mitred. An end past
    which the floor goes on stands free and takes a cap; an end against a wall takes none.
    """
    meetings = [pair for rings in shape.boundary for ring in rings for pair in joined(ring)]
    turning = [pair for pair in meetings if _corner(*pair)]
    ends = [part for pair in turning if not _square(*pair) for part in pair]
    parts = [before for before, _ in meetings if _bare(before)]
    straight = [ExposedEdge(p.length, _place(p), ends.count(p)) for p in parts if not p.round]
    return Exposed(
        edges=(*straight, *_rounds(parts)),
        corners=sum(_square(*pair) for pair in turning),
        caps=sum(_free_end(*pair) for pair in meetings),
    )


def _rounds(parts: list[Part]) -> list[ExposedEdge]:
    """Round stairs, one bent profile each."""
    lengths: dict[str, float] = {}
    for part in parts:
        if part.round:
            lengths[_place(part)] = lengths.get(_place(part), 0.0) + part.length
    return [ExposedEdge(length, place, 0) for place, length in lengths.items()]


def _bare(part: Part) -> bool:
    return part.kind in ("open", "stair")


def _corner(before: Part, after: Part) -> bool:
    facets = before.round and after.round and before.source == after.source
    return _bare(before) and _bare(after) and not facets and abs(turn(before, after)) > STRAIGHT_ON


def _square(before: Part, after: Part) -> bool:
    """Corner pieces are made for right angles."""
    return abs(abs(turn(before, after)) - math.pi / 2) <= STRAIGHT_ON


def _free_end(before: Part, after: Part) -> bool:
    return _bare(before) != _bare(after) and turn(before, after) < -STRAIGHT_ON


def _place(part: Part) -> str:
    return f"open edge {part.source}" if part.kind == "open" else f"stair, obstruction {part.source}"
