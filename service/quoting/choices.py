"""Products that the office chooses for the roles of a room: the organisation has them, and they serve."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from uuid import UUID

from sqlalchemy.orm import Session

from service.pricing.terms import serving
from service.store import rows
from service.store.models import ProductRow
from service.takeoff.errors import InputError
from service.takeoff.room import Job, Room


def checked(session: Session, job: Job) -> Job:
    """The job with what the products chosen state: width of the membrane's roll, length of the band's.

    InputError, such as at "/rooms/0/choices/grout", for a product that is not there or of another role.
    """
    chosen = {UUID(product) for room in job.rooms for _, product in room.choices}
    held = rows.by_ids(session, ProductRow, chosen) if chosen else {}
    for number, room in enumerate(job.rooms):
        for role, product in room.choices:
            _check(f"/rooms/{number}/choices/{role}", role, UUID(product), held)
    return replace(job, rooms=tuple(_as_stated(room, held) for room in job.rooms))


def _as_stated(room: Room, held: Mapping[UUID, ProductRow]) -> Room:
    width = _stated(room, "membrane", "width_mm", held)
    if room.membrane is not None and width is not None:
        room = replace(room, membrane=replace(room.membrane, roll_width=width))
    return replace(room, band_roll=_stated(room, "band", "roll_length_m", held))


def _stated(room: Room, role: str, attribute: str, held: Mapping[UUID, ProductRow]) -> float | None:
    """What the product chosen for the role states; None where none is chosen or it states no such measure."""
    product = room.chosen(role)
    stated = None if product is None else held[UUID(product)].attributes.get(attribute)
    return float(stated) if isinstance(stated, int | float) and stated > 0 else None


def _check(where: str, role: str, product: UUID, held: Mapping[UUID, ProductRow]) -> None:
    if product not in held:
        raise InputError(where, "No product has this id.")
    if held[product].role not in serving(role):
        raise InputError(where, f"That product is for the role {held[product].role}.")
