"""Floors that run on through a doorway: one datum for several rooms, so that their joints line up."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import TypeVar

from service.takeoff.answer import Layout
from service.takeoff.errors import InputError
from service.takeoff.room import ContinuesFrom, Room

_Flow = TypeVar("_Flow")

POINTER = "/continues_from"


def in_order(
    rooms: Sequence[Room], flow: Callable[[int, Room], _Flow], layout_of: Callable[[_Flow], Layout]
) -> tuple[_Flow, ...]:
    """The flow of each room, in the order of `rooms`; a floor that runs on is taken after its source.

    InputError (pointer from the job) for a room that is not there, a circle, another tile, joint or pattern,
    or a room that is not laid out.
    """
    sources = tuple(source_of(number, rooms) for number in range(len(rooms)))
    done: dict[int, _Flow] = {}
    for number in range(len(rooms)):
        for following in reversed(_chain(number, sources)):
            if following not in done:
                done[following] = flow(following, _joined_on(following, rooms, sources, done, layout_of))
    return tuple(done[number] for number in range(len(rooms)))


def source_of(number: int, rooms: Sequence[Room]) -> int | None:
    """The number of the room that this one's floor runs on from; InputError where it is not one room."""
    said = rooms[number].continues_from
    if said is None:
        return None
    named = [i for i, room in enumerate(rooms) if said.room in (i, room.name)]
    if len(named) != 1:
        counted = "no room is" if not named else f"{len(named)} rooms are"
        raise InputError(f"/rooms/{number}{POINTER}/room", f"{counted} called {said.room}")
    return named[0]


def _chain(number: int, sources: Sequence[int | None]) -> list[int]:
    """A room and all that it runs on from, the nearest first."""
    chain = [number]
    while (source := sources[chain[-1]]) is not None:
        if source in chain:
            raise InputError(f"/rooms/{number}{POINTER}", "the rooms run on from each other in a circle")
        chain.append(source)
    return chain


def _joined_on(
    number: int,
    rooms: Sequence[Room],
    sources: Sequence[int | None],
    done: Mapping[int, _Flow],
    layout_of: Callable[[_Flow], Layout],
) -> Room:
    room, source = rooms[number], sources[number]
    if source is None or room.continues_from is None:
        return room
    try:
        _check_alike(_turned_like(room, rooms[source]), rooms[source])
        return _from_datum(room, room.continues_from, layout_of(done[source]))
    except InputError as fault:
        raise fault.under(f"/rooms/{number}") from fault


def _turned_like(room: Room, other: Room) -> Room:
    """Rotations to try need not be told again: the one chosen in the other room holds in both."""
    said, theirs = room.pattern, other.pattern
    if not theirs.try_rotations or said.try_rotations or said.rotation not in (0.0, theirs.rotation):
        return room
    pattern = replace(said, rotation=theirs.rotation, try_rotations=theirs.try_rotations)
    return replace(room, pattern=pattern)


def _check_alike(room: Room, other: Room) -> None:
    for name in ("tile", "pattern", "joint"):
        if getattr(room, name) != getattr(other, name):
            raise InputError(
                POINTER, f"the {name} differs from that of {other.name}; a floor runs on unchanged"
            )


def _from_datum(room: Room, said: ContinuesFrom, layout: Layout) -> Room:
    """The room with the other's start and rotation, in its own coordinates."""
    if layout.plan is None or layout.origin is None:
        raise InputError(POINTER, "that room is not laid out, only its area is known")
    origin = (said.at[0] + layout.origin[0], said.at[1] + layout.origin[1])
    rotation = layout.plan.lattice.rotation_deg
    return replace(room, origin=origin, pattern=replace(room.pattern, rotation=rotation, try_rotations=()))
