"""The schema of a room: lengths in mm or with their unit, its shape told in exactly one way."""

from __future__ import annotations

from typing import Any, get_args

import marshmallow as ma

from service.api.framework.fields import Flag, Keyed, Length, Number, Offset, Text, Whole, Word
from service.api.framework.schema import RequestSchema
from service.takeoff import room as plain

MAX_POINTS = 500
MAX_THINGS = 100
MAX_ROOMS = 50
FAR = 1_000_000
SHAPES = ("outline", "rectangle", "parts", "walls_run", "area_m2")
ROLES_CHOSEN = (
    "skirting_tile",
    "membrane",
    "membrane_mortar",
    "tile_mortar",
    "band_mortar",
    "grout",
    "sealant",
    "movement_joint_profile",
    "edge_profile",
    "transition_profile",
    "skirting_profile",
    "profile_fitting",
    "levelling_compound",
    "primer",
    "heating_cable",
)


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
    moisture = one(MoistureSchema)
    age_days = Number(0, 100_000)
    thickness = Length(above=True, maximum=5000)
    joist_spacing = Length(above=True, maximum=5000)
    span = Length(above=True, maximum=50_000)
    deflection = Number(0, 100_000, above=True, metadata={"description": "the n of L/n under live load"})


class ExistingSchema(RequestSchema):
    covering = word(plain.Covering, required=True)
    remove = Flag()


class TileSchema(RequestSchema):
    """By its measures, or by the id of a product; where both are given they must agree."""

    length = Length(above=True, maximum=5000)
    width = Length(above=True, maximum=5000)
    thickness = Length(above=True, maximum=100)
    material = word(plain.TileMaterial)
    size_is = Word("work", "nominal")
    product = ma.fields.UUID()

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
    tiles = many(TileSchema, 8)


class MembraneSchema(RequestSchema):
    thickness = Word("standard", "thick")


class SkirtingSchema(RequestSchema):
    height = Length(above=True, maximum=2000, required=True)


class SawSchema(RequestSchema):
    kerf = Length(maximum=10)
    sawn_edges_at_joints = Flag()


class Walls(ma.fields.Field[Any]):
    """ "all", or the numbers of the edges that are walls."""

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> Any:
        if value == "all":
            return value
        if not isinstance(value, list):
            raise ma.ValidationError('Must be "all" or a list of edge numbers.')
        return ma.fields.List(Whole(0, 10_000), validate=ma.validate.Length(max=10_000)).deserialize(value)


class Origin(ma.fields.Field[Any]):
    """A word, or [x, y]."""

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> Any:
        if isinstance(value, list):
            return point().deserialize(value)
        if value not in get_args(plain.OriginKind):
            raise ma.ValidationError(f"Must be one of {', '.join(get_args(plain.OriginKind))}, or [x, y].")
        return value


class RoomSchema(RequestSchema):
    """A room: exactly one of outline, rectangle, parts, walls_run, or area_m2 with perimeter; and a tile."""

    name = Text(120)
    outline = ring(metadata={"description": "corners in order; edge i runs from corner i to the next"})
    holes = ma.fields.List(ring(), validate=ma.validate.Length(max=50))
    rectangle = one(RectangleSchema)
    parts = many(PartSchema, least=1)
    walls_run = many(WallSchema, MAX_POINTS, least=4)
    area_m2 = Number(0, 100_000, above=True)
    perimeter = Length(above=True)
    walls = Walls(
        metadata={"oneOf": [{"const": "all"}, {"type": "array", "items": {"type": "integer", "minimum": 0}}]}
    )
    doorways = many(DoorwaySchema)
    obstructions = many(ObstructionSchema)
    exposure = word(plain.Exposure)
    zones = many(ZoneSchema)
    substrate = one(SubstrateSchema)
    existing = one(ExistingSchema, allow_none=True)
    built_year = Whole(1000, 2200, allow_none=True)
    heating = word(plain.Heating)
    falls = word(plain.Falls)
    tile = one(TileSchema, required=True)
    pattern = one(PatternSchema)
    origin = Origin(metadata={"oneOf": [{"enum": list(get_args(plain.OriginKind))}, {"type": "array"}]})
    joint = Length(maximum=50)
    perimeter_joint = Length(maximum=100)
    min_piece = Length(maximum=1000)
    membrane = one(MembraneSchema, allow_none=True)
    waterproof = Flag()
    skirting = one(SkirtingSchema, allow_none=True)
    movement_joint = Word("sealant", "profile")
    saw = one(SawSchema)
    choices = Keyed(
        keys=Word(*ROLES_CHOSEN),
        values=ma.fields.UUID(),
        metadata={"description": "products chosen by the office, by role"},
    )

    @ma.validates_schema
    def _one_shape(self, data: dict[str, Any], **_: Any) -> None:
        given = [name for name in SHAPES if name in data]
        if len(given) != 1:
            raise ma.ValidationError(f"Give exactly one of {', '.join(SHAPES)}.")
        if ("perimeter" in data) != ("area_m2" in data):
            raise ma.ValidationError("Goes with area_m2, and only with it.", "perimeter")
        if "holes" in data and "outline" not in data:
            raise ma.ValidationError("Goes with an outline only.", "holes")


class SiteSchema(RequestSchema):
    floor = Whole(-10, 200)
    lift = Flag()
    carry = Length(metadata={"description": "from the vehicle to the room"})
    occupied = Flag()


class JobSchema(RequestSchema):
    """Rooms, the standards that hold for them, and the site."""

    rooms = many(RoomSchema, MAX_ROOMS, least=1, required=True)
    standards = word(plain.Standards)
    site = one(SiteSchema)
    display_units = Word(
        "metric", "us", metadata={"description": "us adds US figures beside the metric ones"}
    )
