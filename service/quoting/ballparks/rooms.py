"""A generated room as the take-off takes it."""

from __future__ import annotations

from fractions import Fraction
from typing import cast

from service.ballpark.generate import GeneratedRoom
from service.takeoff.room import (
    Doorway,
    Existing,
    Exposure,
    Flatness,
    Heating,
    Job,
    Obstruction,
    Outline,
    Pattern,
    Room,
    Site,
    Standards,
    Substrate,
    SubstrateKind,
    Tile,
)

PATTERNS = {
    "stack_bond": Pattern(),
    "running_bond": Pattern("running_bond", Fraction(1, 2)),
    "diagonal": Pattern(rotation=45.0),
    "herringbone": Pattern("herringbone"),
}
LONG_TILE_OFFSET = Fraction(1, 3)
"""Of tiles three times as long as wide or more, whose bow asks for it (ANSI A108.02-4.3.8)."""
PIPE_MM, DRAIN_MM = 50.0, 110.0


def job_of(room: GeneratedRoom, standards: Standards) -> Job:
    """The job of one room, everything else as a quote takes it where nothing is said."""
    site = Site(room.floor, lift=False, carry=room.carry, occupied=room.answers.home == "lived_in")
    return Job((_room(room),), standards, site)


def pattern_of(word: str, tile: Tile) -> Pattern:
    if word == "running_bond" and tile.longest_edge >= 3 * tile.shortest_edge:
        return Pattern("running_bond", LONG_TILE_OFFSET)
    return PATTERNS[word]


def _room(room: GeneratedRoom) -> Room:
    said = room.answers
    tile = Tile(*room.tile, thickness=room.thickness)
    exposure = cast(Exposure, said.exposure)
    covering = said.existing_covering
    return Room(
        name=str(said.room_kind),
        shape=Outline(room.corners, walls=tuple(range(len(room.corners)))),
        tile=tile,
        doorways=tuple(Doorway(door.wall, door.offset, door.width, door.adjoining) for door in room.doors),
        obstructions=_pierced(room),
        exposure=exposure,
        substrate=Substrate(cast(SubstrateKind, room.substrate), Flatness(room.gap, 3000.0)),
        existing=None if covering in (None, "none") else Existing(covering),  # type: ignore[arg-type]
        heating=cast(Heating, said.heating),
        pattern=pattern_of(str(said.pattern), tile),
        origin="corner",
        joint=room.joint,
        waterproof=exposure != "dry",
    )


def _pierced(room: GeneratedRoom) -> tuple[Obstruction, ...]:
    pipes = tuple(Obstruction("pipe", centre=place, diameter=PIPE_MM) for place in room.pipes)
    drains = (room.drain,) if room.drain else ()
    return (*pipes, *(Obstruction("drain", centre=place, diameter=DRAIN_MM) for place in drains))
