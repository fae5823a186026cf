"""Jobs without the names of products: what differs in products alone takes the same material and hours."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from service.takeoff.answer import Material, Takeoff
from service.takeoff.room import Job, Room, Tile

Rename = Callable[[str], str]


def nameless(job: Job) -> tuple[Job, Mapping[str, str]]:
    """The job with its products numbered in the order of their mention, and the product of each number.

    Products that are one stay one, so that what is bought together still is.
    """
    numbers: dict[str, str] = {}
    plain = _renamed(job, lambda product: numbers.setdefault(product, str(len(numbers))))
    return plain, {number: product for product, number in numbers.items()}


def named(takeoff: Takeoff, job: Job, names: Mapping[str, str]) -> Takeoff:
    """The take-off of a nameless job as that of the job which it came from."""
    return replace(takeoff, job=job, materials=tuple(_material(m, names) for m in takeoff.materials))


def _material(material: Material, names: Mapping[str, str]) -> Material:
    return material if material.product is None else replace(material, product=names[material.product])


def _renamed(job: Job, rename: Rename) -> Job:
    return replace(job, rooms=tuple(_room(room, rename) for room in job.rooms))


def _room(room: Room, rename: Rename) -> Room:
    return replace(
        room,
        tile=_tile(room.tile, rename),
        pattern=replace(room.pattern, tiles=tuple(_tile(tile, rename) for tile in room.pattern.tiles)),
        choices=tuple((role, rename(product)) for role, product in room.choices),
    )


def _tile(tile: Tile, rename: Rename) -> Tile:
    return tile if tile.product is None else replace(tile, product=rename(tile.product))
