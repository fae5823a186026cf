"""What several take-offs have in common, each thing reckoned once.

A step is shared by what it may depend on: it is given a room that holds nothing else, so that whatever a
room says besides cannot change it.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import replace
from typing import Any, TypeVar

from service.takeoff.room import Room, Tile

T = TypeVar("T")

_NO_TILE = Tile(1.0, 1.0)


class Shared:
    """Results by the step and what it depends on; for take-offs with the same trade values only."""

    def __init__(self) -> None:
        self._known: dict[tuple[str, Hashable], Any] = {}

    def once(self, step: str, on: Hashable, make: Callable[[], T]) -> T:
        """What `make` gives, made the first time that this step is asked for on this."""
        key = (step, on)
        if key not in self._known:
            self._known[key] = make()
        found: T = self._known[key]
        return found


def ground_of(room: Room) -> Room:
    """What the floor's shape depends on."""
    return Room(
        name="",
        shape=room.shape,
        tile=_NO_TILE,
        doorways=room.doorways,
        obstructions=room.obstructions,
        zones=room.zones,
        perimeter_joint=room.perimeter_joint,
    )


def tiled(room: Room) -> Room:
    """What the layout depends on besides: sizes of tile, pattern, start, joint and saw."""
    return replace(
        ground_of(room),
        tile=_sized(room.tile),
        pattern=replace(room.pattern, tiles=tuple(_sized(tile) for tile in room.pattern.tiles)),
        origin=room.origin,
        search=room.search,
        focus=room.focus,
        joint=room.joint,
        min_piece=room.min_piece,
        saw=room.saw,
    )


def _sized(tile: Tile) -> Tile:
    return Tile(tile.length, tile.width, size_is=tile.size_is, directional=tile.directional)
