"""From a request to the take-off's plain data, and back to the room as understood."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, get_args

from service.api.schemas.shapes import as_ring, edge_lengths, shape_member, shape_of
from service.takeoff.errors import InputError
from service.takeoff.room import (
    ContinuesFrom,
    Doorway,
    Existing,
    Flatness,
    Focus,
    Job,
    Membrane,
    Moisture,
    Obstruction,
    Outline,
    Pattern,
    Room,
    Saw,
    Site,
    Skirting,
    Standards,
    Substrate,
    Tile,
    TileFact,
    Zone,
)

TileOf = Callable[[str], Tile | None]
TOLERANCE_MM = 1e-6
_AS_SAID = (
    "exposure",
    "built_year",
    "heating",
    "falls",
    "curb",
    "joint",
    "perimeter_joint",
    "min_piece",
    "movement_joint",
    "floor_to_wall",
)


def job_from(data: Mapping[str, Any], tile_of: TileOf, standards: Standards = "us") -> Job:
    """The job in `data`, which went through JobSchema. InputError points into it: /rooms/0/doorways/1/offset.

    `tile_of` gives the tile that a product is, None for an unknown one; `standards` is what holds where the
    request names none.
    """
    rooms = tuple(_room_at(place, room, tile_of) for place, room in enumerate(data["rooms"]))
    return Job(rooms, data.get("standards", standards), Site(**data.get("site", {})))


def shape_pointer(data: Mapping[str, Any], pointer: str) -> str:
    """A pointer to a room's outline, as one to the member in which the caller gave the shape."""
    steps = pointer.split("/")
    if len(steps) < 4 or steps[1] != "rooms" or steps[3] != "outline":
        return pointer
    member = shape_member(data["rooms"][int(steps[2])])
    return pointer if member == "outline" else f"/rooms/{steps[2]}/{member}"


def _room_at(place: int, data: Mapping[str, Any], tile_of: TileOf) -> Room:
    try:
        return _room(data, data.get("name", f"Room {place + 1}"), tile_of)
    except InputError as error:
        raise error.under(f"/rooms/{place}") from None


def _room(data: Mapping[str, Any], name: str, tile_of: TileOf) -> Room:
    shape = shape_of(data)
    zones = tuple(Zone(**{**zone, "outline": as_ring(zone["outline"])}) for zone in data.get("zones", ()))
    exposure = data.get("exposure", _usual_exposure(data))
    wet_room = exposure != "dry"
    wet_zones = any(zone.exposure != "dry" for zone in zones)
    said = {name: data[name] for name in _AS_SAID if name in data} | {"exposure": exposure}
    return Room(
        name=name,
        shape=shape,
        tile=_tile(data["tile"], "/tile", tile_of),
        doorways=_doorways(data, shape) if isinstance(shape, Outline) else (),
        obstructions=tuple(_obstruction(thing) for thing in data.get("obstructions", ())),
        zones=zones,
        substrate=_substrate(data.get("substrate", {})),
        existing=Existing(**data["existing"]) if data.get("existing") else None,
        pattern=_pattern(data.get("pattern", {}), tile_of),
        origin=_origin(data.get("origin", "best")),
        focus=_focus(data.get("focus")),
        continues_from=_continues_from(data.get("continues_from")),
        membrane=_membrane(data),
        waterproof=data.get("waterproof", wet_room or wet_zones),
        sealed_zones_only="waterproof" not in data and wet_zones and not wet_room,
        skirting=Skirting(**data["skirting"]) if data.get("skirting") else None,
        saw=Saw(**data.get("saw", {})),
        choices=tuple(sorted((role, str(product)) for role, product in data.get("choices", {}).items())),
        **said,
    )


def _usual_exposure(data: Mapping[str, Any]) -> str:
    """Dry, but for a slab outdoors, which meets the weather whether or not that is said."""
    return "exterior" if data.get("substrate", {}).get("kind") == "exterior_slab" else "dry"


def _origin(said: Any) -> Any:
    return said if isinstance(said, str) else (said[0], said[1])


def _focus(said: Mapping[str, int] | None) -> Focus | None:
    if not said:
        return None
    return Focus("wall", said["wall"]) if "wall" in said else Focus("doorway", said["doorway"])


def _continues_from(said: Mapping[str, Any] | None) -> ContinuesFrom | None:
    return ContinuesFrom(said["room"], (said["at"][0], said["at"][1])) if said else None


def _membrane(data: Mapping[str, Any]) -> Membrane | None:
    said = data.get("membrane", {})
    return None if said is None else Membrane(**said)


def _doorways(data: Mapping[str, Any], outline: Outline) -> tuple[Doorway, ...]:
    lengths = edge_lengths(outline)
    doorways = tuple(Doorway(**doorway) for doorway in data.get("doorways", ()))
    for place, doorway in enumerate(doorways):
        where = f"/doorways/{place}"
        if doorway.wall >= len(lengths):
            raise InputError(f"{where}/wall", f"The outline has edges 0 to {len(lengths) - 1}.")
        if doorway.wall not in outline.walls:
            raise InputError(f"{where}/wall", f"Edge {doorway.wall} is open, it is no wall.")
        length = lengths[doorway.wall]
        if doorway.offset + doorway.width > length + TOLERANCE_MM:
            end = doorway.offset + doorway.width
            past = f"The doorway ends at {end:g} mm, wall {doorway.wall} at {length:g} mm."
            raise InputError(f"{where}/offset", past)
    return doorways


def _obstruction(data: Mapping[str, Any]) -> Obstruction:
    outline = as_ring(data["outline"]) if "outline" in data else None
    centre = (data["centre"][0], data["centre"][1]) if "centre" in data else None
    return Obstruction(data["kind"], outline, centre, data.get("diameter"))


def _substrate(data: Mapping[str, Any]) -> Substrate:
    made = dict(data)
    if "flatness" in data:
        made["flatness"] = Flatness(**data["flatness"])
    if "levels" in data:
        made["levels"] = tuple((x, y, height) for x, y, height in data["levels"])
    if "moisture" in data:
        made["moisture"] = Moisture(**data["moisture"])
    return Substrate(**made)


def _pattern(data: Mapping[str, Any], tile_of: TileOf) -> Pattern:
    tiles = (
        _tile(tile, f"/pattern/tiles/{place}", tile_of) for place, tile in enumerate(data.get("tiles", ()))
    )
    rotations = tuple(data.get("try_rotations", ()))
    return Pattern(**{**data, "tiles": tuple(tiles), "try_rotations": rotations})


def _assumed(data: Mapping[str, Any]) -> tuple[TileFact, ...]:
    """What of a tile is taken to be as usual: what was left out, and what was said to be."""
    said = data.get("assumed", ())
    return tuple(fact for fact in get_args(TileFact) if fact not in data or fact in said)


def _tile(data: Mapping[str, Any], where: str, tile_of: TileOf) -> Tile:
    if "product" not in data:
        return Tile(**{**data, "assumed": _assumed(data)})
    product = str(data["product"])
    tile = tile_of(product)
    if tile is None:
        raise InputError(f"{where}/product", "No tile on sale is this product.")
    for name in data.keys() - {"product", "assumed"}:
        known = getattr(tile, name)
        if known != data[name]:
            raise InputError(f"{where}/{name}", f"The product's own is {known}.")
    return tile
