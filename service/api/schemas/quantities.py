"""Materials and labour of a take-off as answered."""

from __future__ import annotations

from typing import Any

import marshmallow as ma

from service.api.framework.fields import Rounded, Word
from service.api.framework.schema import AnswerSchema
from service.api.schemas.figures import hours, millimetres


class ReasonSchema(AnswerSchema):
    text = ma.fields.String()
    quantity = Rounded(3)


class FitnessSchema(AnswerSchema):
    attribute = ma.fields.String()
    one_of = ma.fields.List(ma.fields.String())
    at_least = Rounded(3)
    at_most = Rounded(3)
    if_stated = ma.fields.Boolean(metadata={"description": "a product that does not state it serves as well"})

    @ma.post_dump
    def _only_what_is_asked(self, data: dict[str, Any], **_: Any) -> dict[str, Any]:
        return {name: value for name, value in data.items() if value not in (None, []) and value is not False}


class SticksSchema(AnswerSchema):
    """The usual stick of a profile cut for all runs, room by room, for orientation: pricing buys sticks."""

    length_mm = millimetres()
    count = ma.fields.Integer()
    bound = ma.fields.Integer(metadata={"description": "no way to cut the runs takes fewer sticks"})
    gap = ma.fields.Integer(metadata={"description": "0: proven to be the fewest"})
    method = ma.fields.String(metadata={"description": "the last step of the search for them"})


class MaterialSchema(AnswerSchema):
    role = ma.fields.String()
    unit = Word("piece", "m2", "m", "kg", "l", "ml", "day")
    required = Rounded(3)
    with_allowance = Rounded(3)
    reasons = ma.fields.List(ma.fields.Nested(ReasonSchema))
    fitness = ma.fields.List(ma.fields.Nested(FitnessSchema))
    product = ma.fields.String(allow_none=True)
    one_system = ma.fields.Boolean()
    sticks = ma.fields.Nested(SticksSchema, allow_none=True)
    rooms = ma.fields.List(ma.fields.String())


class FactorSchema(AnswerSchema):
    """How much longer a unit takes, why, and by which source."""

    name = ma.fields.String(metadata={"description": "pattern, material, room, occupied"})
    factor = Rounded(4)
    reason = ma.fields.String()
    source = ma.fields.String()


class LabourPartSchema(AnswerSchema):
    """So much of the quantity as has one rate and the same factors."""

    rate = ma.fields.String(
        metadata={"description": "the row of the labour table: the activity, or one of a circumstance"}
    )
    quantity = Rounded(3)
    hours_per_unit = Rounded(6)
    factors = ma.fields.List(ma.fields.Nested(FactorSchema))


class LabourLineSchema(AnswerSchema):
    activity = ma.fields.String()
    driver = ma.fields.String()
    quantity = Rounded(3)
    unit = ma.fields.String()
    rate = Rounded(4, metadata={"description": "crew-member hours per unit, with the factors"})
    hours = hours()
    base_hours = Rounded(2, metadata={"description": "at the table's rates, before the factors"})
    parts = ma.fields.List(ma.fields.Nested(LabourPartSchema))
    reasons = ma.fields.List(
        ma.fields.String(), metadata={"description": "why the work is there, where that is not plain"}
    )


class LabourHoursSchema(AnswerSchema):
    total = hours()
    by_driver = ma.fields.Dict(keys=ma.fields.String(), values=hours())
