"""What a room is described with: points, parts, doorways, obstructions, substrate, tile, pattern."""

from __future__ import annotations

from typing import Any, get_args

import marshmallow as ma
from shapely import MultiPoint

from service.api.framework.fields import MAX_LENGTH_MM, Flag, Length, Number, Offset, Text, Whole, Word
from service.api.framework.schema import RequestSchema
from service.takeoff import room as plain

MAX_POINTS = 500
MAX_THINGS = 100
MAX_ROTATIONS = 8
MOST_READINGS = 500
LEAST_SPREAD_MM2 = 10_000
FAR = 1_000_000
GROUNDS = tuple(kind for kind in get_args(plain.SubstrateKind) if kind not in plain.OLD_FLOORS | {"unknown"})
CARRIED = ("concrete_on_ground", "concrete_suspended")
"""How a slab may be carried whose kind does not tell."""


def point(**options: Any) -> ma.fields.Field[Any]:
    """[x, y] in the room's own coordinates."""
    coordinate = Length(minimum=-FAR, maximum=FAR)
    pair = ma.validate.Length(equal=2, error="A point is [x, y].")
    return ma.fields.List(coordinate, validate=pair, metadata={"minItems": 2, "maxItems": 2}, **options)


def ring(**options: Any) -> ma.fields.Field[Any]:
    """The corners of a polygon in order, the first not repeated."""
    enough = ma.validate.Length(3, MAX_POINTS, error=f"From 3 to {MAX_POINTS} points.")
    return ma.fields.List(point(), validate=enough, **options)


def many(
    schema: type[ma.Schema], most: int = MAX_THINGS, least: int = 0, **options: Any
) -> ma.fields.Field[Any]:
    return ma.fields.List(ma.fields.Nested(schema), validate=ma.validate.Length(least, most), **options)


def one(schema: type[ma.Schema], **options: Any) -> ma.fields.Field[Any]:
    return ma.fields.Nested(schema, **options)


def word(kind: Any, **options: Any) -> Word:
    """One of the words of a Literal."""
    return Word(*get_args(kind), **options)


class RectangleSchema(RequestSchema):
    length = Length(above=True, required=True)
    width = Length(above=True, required=True)


class PartSchema(RequestSchema):
    op = Word("add", "subtract", required=True)
    at = point(required=True)
    length = Length(above=True, required=True)
    width = Length(above=True, required=True)


class WallSchema(RequestSchema):
    length = Length(above=True, required=True)
    turn = Word("left", "right", required=True)


class DoorwaySchema(RequestSchema):
    wall = Whole(0, 10_000, required=True)
    offset = Length(required=True)
    width = Length(above=True, maximum=20_000, required=True)
    adjoining = Text(40)
    adjoining_level = Length(minimum=-500, maximum=500, allow_none=True)
    leaf = Flag(metadata={"description": "whether a door hangs in it; true unless said"})


class ObstructionSchema(RequestSchema):
    kind = word(plain.ObstructionKind, required=True)
    outline = ring()
    centre = point()
    diameter = Length(above=True, maximum=10_000)

    @ma.validates_schema
    def _one_form(self, data: dict[str, Any], **_: Any) -> None:
        outlined, centred = "outline" in data, "centre" in data
        if outlined == centred:
            raise ma.ValidationError("Give an outline, or a centre with a diameter.")
        if centred and "diameter" not in data:
            raise ma.ValidationError("Wanted beside the centre.", "diameter")
        if outlined and "diameter" in data:
            raise ma.ValidationError("Belongs to a centre, not to an outline.", "diameter")


class ZoneSchema(RequestSchema):
    outline = ring(required=True)
    exposure = word(plain.Exposure, required=True)
    sunlit = Flag()


class FlatnessSchema(RequestSchema):
    gap = Length(maximum=1000, required=True)
    under = Length(above=True, maximum=10_000, required=True)


class MoistureSchema(RequestSchema):
    method = Word("rh", "cm", "mver", "wood", required=True)
    value = Number(0, 100, required=True)


class SubstrateSchema(RequestSchema):
    kind = word(plain.SubstrateKind)
    flatness = one(FlatnessSchema)
    levels = ma.fields.List(
        ma.fields.List(Number(-MAX_LENGTH_MM, MAX_LENGTH_MM), validate=ma.validate.Length(equal=3)),
        validate=ma.validate.Length(3, MOST_READINGS),
        metadata={"description": "[x, y, height] in mm read with a level: they tell the volume of compound"},
    )
    moisture = one(MoistureSchema)
    age_days = Number(0, 100_000)
    thickness = Length(above=True, maximum=5000)
    joist_spacing = Length(above=True, maximum=5000)
    span = Length(above=True, maximum=50_000)
    deflection = Number(0, 100_000, above=True, metadata={"description": "the n of L/n under live load"})
    beneath = Word(
        *GROUNDS,
        metadata={"description": "what an existing floor or a screed lies on, or a young or outdoor slab"},
    )
    bonded = Flag(metadata={"description": "whether the existing floor was found stuck down all over"})

    @ma.validates_schema
    def _spread(self, data: dict[str, Any], **_: Any) -> None:
        places = {(x, y) for x, y, _ in data.get("levels", ())}
        if len(places) != len(data.get("levels", ())):
            raise ma.ValidationError("Two readings at one place.", "levels")
        if places and MultiPoint(sorted(places)).convex_hull.area < LEAST_SPREAD_MM2:
            raise ma.ValidationError("The readings lie in one line.", "levels")

    @ma.validates_schema
    def _of_layers(self, data: dict[str, Any], **_: Any) -> None:
        kind = data.get("kind")
        if "bonded" in data and kind not in plain.OLD_FLOORS:
            raise ma.ValidationError(
                "Goes with an existing floor as the ground, and only with one.", "bonded"
            )
        if "beneath" not in data:
            return
        if kind not in plain.OLD_FLOORS | plain.SCREEDS | plain.SLABS:
            raise ma.ValidationError(
                "Goes with an existing floor, a screed or a young or outdoor slab.", "beneath"
            )
        if kind in plain.SLABS and data["beneath"] not in CARRIED:
            raise ma.ValidationError(f"Of a slab it is one of {', '.join(CARRIED)}.", "beneath")


class ExistingSchema(RequestSchema):
    covering = word(plain.Covering, required=True)
    remove = Flag()


class TileSchema(RequestSchema):
    """By its measures, or by the id of a product; where both are given they must agree."""

    length = Length(
        above=True, maximum=5000, metadata={"description": "of a hexagon the measure across its flats"}
    )
    width = Length(above=True, maximum=5000, metadata={"description": "of a hexagon the same as length"})
    thickness = Length(above=True, maximum=100)
    material = word(plain.TileMaterial)
    size_is = Word("work", "nominal")
    product = ma.fields.UUID()
    assumed = ma.fields.List(
        word(plain.TileFact),
        validate=ma.validate.Length(max=2),
        metadata={"description": "what is only taken to be so, besides what is left out"},
    )
    directional = Flag(metadata={"description": "veined or printed with a direction: offcuts are not turned"})

    @ma.validates_schema
    def _known(self, data: dict[str, Any], **_: Any) -> None:
        if "product" in data:
            return
        for name in ("length", "width"):
            if name not in data:
                raise ma.ValidationError("A tile wants its length and width, or a product.", name)


class PatternSchema(RequestSchema):
    kind = word(plain.PatternKind)
    offset = Offset()
    rotation = Number(-360, 360)
    tiles = many(TileSchema, 8, metadata={"description": "the two sizes of a modular pattern, of no other"})
    try_rotations = ma.fields.List(
        Number(-360, 360),
        validate=ma.validate.Length(max=MAX_ROTATIONS),
        metadata={"description": "further rotations that the search for the best start may choose"},
    )

    @ma.validates_schema
    def _own_tiles(self, data: dict[str, Any], **_: Any) -> None:
        if data.get("tiles") and data.get("kind") != "modular":
            raise ma.ValidationError("Only a modular pattern has tiles of its own.", "tiles")


class FocusSchema(RequestSchema):
    """What the eye meets first: a wall or a doorway, by number."""

    wall = Whole(0, 10_000)
    doorway = Whole(0, MAX_THINGS - 1)

    @ma.validates_schema
    def _one(self, data: dict[str, Any], **_: Any) -> None:
        if len(data) != 1:
            raise ma.ValidationError("Give a wall or a doorway, by number.")


class NumberOrName(ma.fields.Field[Any]):
    """A room of the job, by its number from 0 or by its name."""

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> Any:
        field: ma.fields.Field[Any] = Text(120) if isinstance(value, str) else Whole(0, MAX_THINGS)
        return field.deserialize(value)


class ContinuesFromSchema(RequestSchema):
    """The room whose floor runs on into this one, and its zero point in this room's coordinates."""

    room = NumberOrName(required=True, metadata={"oneOf": [{"type": "integer"}, {"type": "string"}]})
    at = point(required=True)


class MembraneSchema(RequestSchema):
    thickness = Word("standard", "thick")


class SkirtingSchema(RequestSchema):
    height = Length(above=True, maximum=2000, required=True)


class SawSchema(RequestSchema):
    kerf = Length(maximum=10)
    sawn_edges_at_joints = Flag()
