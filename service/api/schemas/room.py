"""The schema of a room: lengths in mm or with their unit, its shape told in exactly one way."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, get_args

import marshmallow as ma

from service.api.framework.described import LENGTH_SCHEMA
from service.api.framework.fields import Flag, Keyed, Length, Number, Text, Whole, Word
from service.api.framework.schema import RequestSchema
from service.api.schemas.room_parts import (
    FAR,
    MAX_POINTS,
    ContinuesFromSchema,
    DoorwaySchema,
    ExistingSchema,
    FocusSchema,
    MembraneSchema,
    ObstructionSchema,
    PartSchema,
    PatternSchema,
    RectangleSchema,
    SawSchema,
    SkirtingSchema,
    SubstrateSchema,
    TileSchema,
    WallSchema,
    ZoneSchema,
    many,
    one,
    point,
    ring,
    word,
)
from service.takeoff import room as plain

MAX_ROOMS = 50
MAX_JOB_POINTS = 1000
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
    "cove_profile",
    "profile_fitting",
    "levelling_compound",
    "primer",
    "heating_cable",
)


class Walls(ma.fields.Field[Any]):
    """ "all", or the numbers of the edges that are walls."""

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> Any:
        if value == "all":
            return value
        if not isinstance(value, list):
            raise ma.ValidationError('Must be "all" or a list of edge numbers.')
        return ma.fields.List(Whole(0, 10_000), validate=ma.validate.Length(max=10_000)).deserialize(value)


WALLS_FORMS = [
    {"type": "string", "enum": ["all"]},
    {"type": "array", "items": {"type": "integer", "minimum": 0}},
]
_COORDINATE = {"oneOf": [{"type": "number", "minimum": -FAR, "maximum": FAR}, LENGTH_SCHEMA]}
ORIGIN_FORMS = [
    {"type": "string", "enum": list(get_args(plain.OriginKind))},
    {"type": "array", "items": _COORDINATE, "minItems": 2, "maxItems": 2},
]


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
    walls = Walls(metadata={"oneOf": WALLS_FORMS})
    doorways = many(DoorwaySchema)
    obstructions = many(ObstructionSchema)
    exposure = word(plain.Exposure)
    zones = many(ZoneSchema)
    substrate = one(SubstrateSchema)
    existing = one(ExistingSchema, allow_none=True)
    built_year = Whole(1000, 2200, allow_none=True)
    heating = word(plain.Heating)
    falls = word(plain.Falls)
    curb = Flag(metadata={"description": "whether a curb, tray or sunken floor holds water on the wet floor"})
    tile = one(TileSchema, required=True)
    pattern = one(PatternSchema)
    origin = Origin(metadata={"oneOf": ORIGIN_FORMS})
    focus = one(FocusSchema, allow_none=True)
    continues_from = one(ContinuesFromSchema, allow_none=True)
    joint = Length(maximum=50)
    perimeter_joint = Length(maximum=100)
    min_piece = Length(maximum=1000)
    membrane = one(MembraneSchema, allow_none=True)
    waterproof = Flag()
    skirting = one(SkirtingSchema, allow_none=True)
    movement_joint = Word("sealant", "profile")
    floor_to_wall = Word(
        "sealant", "profile", metadata={"description": "what closes the joint between floor and wall"}
    )
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

    @ma.validates_schema
    def _taken_out(self, data: dict[str, Any], **_: Any) -> None:
        """A floor cannot be built on and taken out."""
        existing, kind = data.get("existing") or {}, data.get("substrate", {}).get("kind")
        if existing.get("remove", True) and kind == f"existing_{existing.get('covering')}":
            said = f"The floor is built on {kind}: that stays, or the substrate is what it lies on."
            raise ma.ValidationError({"existing": {"remove": [said]}})

    @ma.validates_schema
    def _across_flats(self, data: dict[str, Any], **_: Any) -> None:
        tile = data.get("tile", {})
        if data.get("pattern", {}).get("kind") != "hexagon" or "product" in tile:
            return
        if tile.get("width") != tile.get("length"):
            said = "A hexagon is measured across its flats: its width is its length."
            raise ma.ValidationError({"tile": {"width": [said]}})


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
    crew = Text(80, metadata={"description": "the crew whose labour table holds; without it the usual one"})

    @ma.validates_schema
    def _reckonable(self, data: dict[str, Any], **_: Any) -> None:
        """So many corners, each times the rotations tried, are laid out within seconds."""
        points = sum(_corners(room) for room in data.get("rooms", ()))
        if points > MAX_JOB_POINTS:
            told = f"{points} corners, counted for each rotation tried; a job may have {MAX_JOB_POINTS}."
            raise ma.ValidationError(f"The rooms have {told}", "rooms")


def _corners(room: Mapping[str, Any]) -> int:
    rings = [room.get("outline", ()), room.get("walls_run", ()), *room.get("holes", ())]
    rings += [thing.get("outline") or () for thing in (*room.get("obstructions", ()), *room.get("zones", ()))]
    corners = sum(map(len, rings)) + 4 * len(room.get("parts", ()))
    return corners * max(1, len(room.get("pattern", {}).get("try_rotations", ())))
