"""What changes rooms: a named merge patch on some of them, in a variant or in an option of a quote."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import marshmallow as ma

from service.api.framework.fields import Keyed, Text, Whole, Word
from service.api.framework.schema import RequestSchema
from service.api.schemas.room import MAX_ROOMS, RoomSchema

NOT_CHANGED = ("name",)
CHANGED = tuple(name for name in RoomSchema().fields if name not in NOT_CHANGED)
_CHANGES = """a merge patch (RFC 7396) on the rooms, such as {"tile": {...}, "membrane": null}. A tile told by
product takes the place of one told by measures, and the other way round; null is kept where a room may say
null, and takes the member away elsewhere""".replace("\n", " ")


class Changes(Keyed):
    """Members of a room by name; what they hold is checked in the room that they make."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(keys=Word(*CHANGED), values=ma.fields.Raw(allow_none=True), **kwargs)


class AlternativeSchema(RequestSchema):
    """Another name for the rooms, and how they are then."""

    name = Text(120, required=True)
    changes = Changes(load_default=dict, metadata={"description": _CHANGES})
    rooms = ma.fields.List(
        Whole(0, MAX_ROOMS - 1),
        validate=ma.validate.Length(1, MAX_ROOMS),
        metadata={"description": "numbers of the rooms that are changed, from 0; all where left out"},
    )


class OptionSchema(AlternativeSchema):
    """An alternative to the whole of a quote, beside which it stands with a price of its own."""

    note = Text(2000, metadata={"description": "for the customer"})


def check_rooms(data: Mapping[str, Any], member: str) -> None:
    """ValidationError at the first number in the alternatives of this name of a room that is not there."""
    last = len(data.get("rooms", ())) - 1
    for place, alternative in enumerate(data.get(member, ())):
        for i, number in enumerate(alternative.get("rooms", ())):
            if number > last:
                told = [f"The job has rooms 0 to {last}."]
                raise ma.ValidationError({member: {place: {"rooms": {i: told}}}})


def check_names(data: Mapping[str, Any], member: str) -> None:
    """ValidationError at a name that another before it has."""
    names = [alternative.get("name") for alternative in data.get(member, ())]
    for place, name in enumerate(names):
        if name in names[:place]:
            raise ma.ValidationError({member: {place: {"name": ["Another has this name."]}}})
