"""The room as understood: every default filled in, in the names that a request has."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from fractions import Fraction
from typing import Any

from service.takeoff.room import BareArea, Outline, Pattern, Room

UNSAID = frozenset({"shape", "choices", "search", "sealed_zones_only", "shared_doorways"})
"""Members that a request does not have, or has in another form."""


def room_as_understood(room: Room) -> dict[str, Any]:
    """`room` in the members of a request; a request made of it means the same room."""
    unsaid = UNSAID | ({"waterproof"} if room.sealed_zones_only else set())
    said = {name: value for name, value in _plain(room).items() if name not in unsaid}
    shape = _shape(room.shape)
    if not room.substrate.levels:
        said["substrate"].pop("levels", None)
    if room.focus:
        said["focus"] = {room.focus.kind: room.focus.number}
    return {**shape, **said, "pattern": _pattern(room.pattern), "choices": dict(room.choices)}


def _shape(shape: Outline | BareArea) -> dict[str, Any]:
    if isinstance(shape, BareArea):
        return {"area_m2": shape.area_m2, "perimeter": shape.perimeter}
    said: dict[str, Any] = {"outline": _plain(shape.ring), "walls": list(shape.walls)}
    if shape.holes:
        said["holes"] = _plain(shape.holes)
    return said


def _pattern(pattern: Pattern) -> dict[str, Any]:
    said: dict[str, Any] = _plain(pattern)
    return said if pattern.tiles else {name: value for name, value in said.items() if name != "tiles"}


def _plain(value: Any) -> Any:
    if is_dataclass(value):
        members = ((field.name, getattr(value, field.name)) for field in fields(value))
        return {name: _plain(member) for name, member in members if member is not None or name in _NULLABLE}
    if isinstance(value, tuple):
        return [_plain(member) for member in value]
    return str(value) if isinstance(value, Fraction) else value


_NULLABLE = {"membrane", "skirting", "existing", "built_year"}
