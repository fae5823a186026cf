"""A ballpark as asked for and as answered."""

from __future__ import annotations

from typing import Any, get_args

import marshmallow as ma

from service.api.framework.fields import Length, Money, Number, Rounded, Text, Word
from service.api.framework.schema import AnswerSchema, RequestSchema
from service.ballpark.answers import QUESTIONS, BallparkPattern, Drain, Home, RoomKind, TileSize
from service.quoting.ballparks.answer import CAUTIONS, INCLUDES
from service.takeoff.room import Covering, Heating

LEAST_MM, MOST_MM, MOST_M2 = 500, 100_000, 1000
BIGGER = 1.05
"""By how much an area may be over what its lengths give, since both are rough."""


class BallparkRequestSchema(RequestSchema):
    """What a home owner knows; every member may be left out."""

    area_m2 = Number(0.5, MOST_M2, metadata={"description": "the floor to be tiled"})
    length = Length(LEAST_MM, MOST_MM)
    width = Length(LEAST_MM, MOST_MM)
    room_kind = Word(
        *get_args(RoomKind), metadata={"description": "indoors; terraces are quoted in full only"}
    )
    exposure = Word("dry", "wet")
    tile_size = Word(
        *get_args(TileSize),
        metadata={
            "description": "small: to 200 mm, medium: to 450 mm, large: to 800 mm, plank: long and narrow"
        },
    )
    pattern = Word(*get_args(BallparkPattern))
    existing_covering = Word(*get_args(Covering), metadata={"description": "what is to be taken up"})
    heating = Word(*get_args(Heating))
    drain = Word(*get_args(Drain), metadata={"description": "in the floor, as of a shower without a tray"})
    home = Word(*get_args(Home), metadata={"description": "whether it is lived in during the work"})
    region = Text(80, metadata={"description": "one of /v1/taxes; its taxes are counted"})
    postcode = Text(20, metadata={"description": "where the floor is, for the office; no price hangs on it"})
    website = ma.fields.String(
        load_default="",
        validate=ma.validate.Length(max=200),
        metadata={
            "description": "left empty by people; a form hides it. Where it is filled the token leads nowhere"
        },
    )

    @ma.validates_schema
    def _size(self, data: dict[str, Any], **_: Any) -> None:
        if ("length" in data) != ("width" in data):
            missing = "width" if "length" in data else "length"
            raise ma.ValidationError("Length and width go together.", missing)
        bounded = "area_m2" in data and {"length", "width"} <= data.keys()
        if bounded and data["area_m2"] > BIGGER * data["length"] * data["width"] / 1e6:
            raise ma.ValidationError("Larger than length times width.", "area_m2")


class SaidSchema(AnswerSchema):
    """A word for programs and its meaning in English."""

    code = ma.fields.String(required=True)
    text = ma.fields.String(required=True)


class IncludedSchema(SaidSchema):
    code = Word(*INCLUDES, required=True)


class CautionSchema(SaidSchema):
    code = Word(*CAUTIONS, required=True)


class BallparkSchema(AnswerSchema):
    """Prices with tax between which nine in ten of such rooms lie, when priced like a full quote."""

    low = Money(places=2, required=True)
    likely = Money(places=2, required=True)
    high = Money(places=2, required=True)
    currency = ma.fields.String(required=True)
    tax_included = ma.fields.Boolean(required=True)
    width_percent = Rounded(1, required=True, metadata={"description": "high - low, of likely"})
    price_date = ma.fields.Date(required=True, metadata={"description": "of the prices behind it"})
    includes = ma.fields.List(ma.fields.Nested(IncludedSchema), required=True)
    ask_next = Word(
        *QUESTIONS,
        required=True,
        allow_none=True,
        metadata={
            "description": "the question whose answer narrows the range most; lengths: length and width"
        },
    )
    narrows_to_percent = Rounded(
        1, required=True, allow_none=True, metadata={"description": "mean width_percent once it is answered"}
    )
    cautions = ma.fields.List(ma.fields.Nested(CautionSchema), required=True)
    token = ma.fields.String(
        required=True, metadata={"description": "ballpark_token of POST /v1/quotes, for the office"}
    )
    token_expires_at = ma.fields.AwareDateTime(required=True)
