"""The form's questions, with the choices that the operation takes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import marshmallow as ma

from service.api.schemas.ballparks import BallparkRequestSchema

FIRST = ("room_kind", "exposure")
"""Asked beside the size; whoever stops here has a range."""
FURTHER = ("tile_size", "pattern", "existing_covering", "heating", "drain", "home")
TRAP = "website"
"""The field that people never see and programs fill in."""


@dataclass(frozen=True, slots=True)
class Question:
    """A question answered by one of some words."""

    name: str
    choices: tuple[str, ...]


def questions(names: tuple[str, ...]) -> tuple[Question, ...]:
    fields = BallparkRequestSchema().fields
    return tuple(Question(name, _choices(fields[name])) for name in names)


def _choices(field: ma.fields.Field[Any]) -> tuple[str, ...]:
    found = [rule.choices for rule in field.validators if isinstance(rule, ma.validate.OneOf)]
    return tuple(str(choice) for choice in found[0])
