"""The difference between two revisions as answered."""

from __future__ import annotations

import marshmallow as ma

from service.api.framework.fields import Exact, Money, Whole, Word
from service.api.framework.schema import AnswerSchema, RequestSchema
from service.quoting.quotes.causes import STEPS


class DifferenceQuery(RequestSchema):
    to = ma.fields.Integer(
        validate=ma.validate.Range(1, 1_000_000), metadata={"description": "without it the newest revision"}
    )


class ChangeSchema(AnswerSchema):
    pointer = ma.fields.String(metadata={"description": "JSON pointer (RFC 6901)"})
    before = ma.fields.Raw(allow_none=True)
    after = ma.fields.Raw(allow_none=True)


class QuantityMovedSchema(AnswerSchema):
    what = ma.fields.String(metadata={"description": "a role of material, or an activity"})
    unit = ma.fields.String()
    before = Exact(places=6, minimum=None)
    after = Exact(places=6, minimum=None)


class PriceMovedSchema(AnswerSchema):
    what = ma.fields.String(metadata={"description": "an article with who sells it, or an activity"})
    unit = ma.fields.String()
    before = Money(minimum=None)
    after = Money(minimum=None)


class DifferencePartSchema(AnswerSchema):
    causes = ma.fields.List(
        Word(*STEPS), metadata={"description": "more than one where they cannot be told apart"}
    )
    net = Money(places=2, minimum=None, attribute="moved.net")
    gross = Money(places=2, minimum=None, attribute="moved.gross")


class MovedSchema(AnswerSchema):
    net = Money(places=2, minimum=None)
    gross = Money(places=2, minimum=None)


class OptionMovedSchema(AnswerSchema):
    name = ma.fields.String()
    before = ma.fields.Nested(MovedSchema, allow_none=True)
    after = ma.fields.Nested(MovedSchema, allow_none=True)


class RevisionDifferenceSchema(AnswerSchema):
    """From one revision to another; the parts add up to the total exactly."""

    before = Whole(1, 1_000_000)
    after = Whole(1, 1_000_000)
    currency = ma.fields.String()
    inputs = ma.fields.List(ma.fields.Nested(ChangeSchema))
    quantities = ma.fields.List(ma.fields.Nested(QuantityMovedSchema))
    prices = ma.fields.List(ma.fields.Nested(PriceMovedSchema))
    terms = ma.fields.List(ma.fields.Nested(ChangeSchema))
    total = ma.fields.Nested(MovedSchema, allow_none=True, attribute="moved")
    parts = ma.fields.List(ma.fields.Nested(DifferencePartSchema))
    options = ma.fields.List(
        ma.fields.Nested(OptionMovedSchema), metadata={"description": "options that are not in both the same"}
    )
    summary = ma.fields.List(ma.fields.String())
