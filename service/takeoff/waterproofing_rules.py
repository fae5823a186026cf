"""What a wet floor must satisfy: exposure class, upstand, falls, and which part is waterproofed."""

from __future__ import annotations

from math import ceil

from shapely import get_coordinates

from service.sentence import say
from service.takeoff.answer import Finding
from service.takeoff.build_up import tile_height_mm
from service.takeoff.geometry import FloorShape
from service.takeoff.room import Obstruction, ObstructionKind, Point, Room
from service.takeoff.sealed_ground import sealed_ground
from service.takeoff.ways import longest_way_mm
from service.trade.values import TradeValues


def unsealed(room: Room, values: TradeValues) -> tuple[Finding, ...]:
    """A wet room without waterproofing is refused; outdoors or in a wet zone only it is a condition."""
    if room.hardest_exposure == "dry":
        return ()
    source = values.citation(_class_key(room))
    if room.exposure == "wet":
        message = say("A wet room is not tiled without waterproofing.")
        return (Finding("waterproofing", "refuse", message, source),)
    if room.exposure == "exterior":
        message = say(
            "Floor outdoors without waterproofing: only where water may pass into the ground beneath."
        )
    else:
        message = say("A zone of this room is wet and nothing is waterproofed: ask for waterproofing.")
    return (Finding("waterproofing", "condition", message, source),)


def sealed(room: Room, shape: FloorShape, values: TradeValues) -> tuple[Finding, ...]:
    """All findings of a room that is waterproofed: wall to wall, or in its wet zones."""
    return (
        *_surface(room, values),
        _exposure_class(room, values),
        *_upstand(room, shape, values),
        *_zones(room, shape, values),
        *_at_doorways(room, shape, values),
        *_fall(room, shape, values),
    )


def fall_mm(distance_mm: float, values: TradeValues) -> float:
    """Drop of the floor towards a drain over a distance [mm]."""
    return distance_mm * values.number("waterproofing.fall")


def furthest_from_drain_mm(room: Room, shape: FloorShape) -> float:
    """From the furthest corner of the floor to the drain nearest to it, over the floor [mm]."""
    drains = tuple(_centre(drain) for drain in of_kind(room, "drain"))
    corners = dict.fromkeys((x, y) for x, y in get_coordinates(shape.floor).tolist())
    return longest_way_mm(tuple(corners), drains, shape.polygon)


def of_kind(room: Room, kind: ObstructionKind) -> list[Obstruction]:
    return [obstruction for obstruction in room.obstructions if obstruction.kind == kind]


def _centre(drain: Obstruction) -> Point:
    if drain.centre is not None:
        return drain.centre
    ring = drain.outline or ()
    return sum(x for x, _ in ring) / len(ring), sum(y for _, y in ring) / len(ring)


def _class_key(room: Room) -> str:
    exposure = room.hardest_exposure
    drained = exposure == "wet" and of_kind(room, "drain")
    return f"waterproofing.class.{exposure}{'_drain' if drained else ''}"


def _surface(room: Room, values: TradeValues) -> tuple[Finding, ...]:
    """Bands close the seams of a membrane; without one there is nothing that keeps water out."""
    if room.membrane is not None:
        return ()
    message = say(
        "Waterproofing is asked for and there is no membrane: bands alone do not waterproof a floor."
    )
    return (Finding("waterproofing", "refuse", message, values.citation(_class_key(room))),)


def _exposure_class(room: Room, values: TradeValues) -> Finding:
    key = _class_key(room)
    message = say(
        "Water exposure: {exposure}. Membrane, bands, corners and seals must be declared for it.",
        exposure=say(values.word(key)),
    )
    return Finding("exposure_class", "condition", message, values.citation(key))


def upstand_key(room: Room) -> str:
    """Where water is thrown against the wall, under a shower and outdoors, it is sealed higher."""
    splashed = room.hardest_exposure == "exterior" or of_kind(room, "drain")
    return f"waterproofing.upstand{'_splashed' if splashed else ''}"


def wide_band_mm(room: Room, values: TradeValues) -> float:
    """Width of band [mm] that the upstand wants along the walls; 0 where the usual band reaches it.

    The wall leg starts on the membrane and must reach the upstand over the finished floor.
    """
    floor_leg, level = values.number("waterproofing.band_leg"), tile_height_mm(room, values)
    wanted = values.number(upstand_key(room)) + level + floor_leg
    return float(ceil(wanted)) if wanted > values.number("waterproofing.band_width") else 0.0


def _upstand(room: Room, shape: FloorShape, values: TradeValues) -> tuple[Finding, ...]:
    if not shape.measures.wall_length_m:
        return ()
    wanted, wide = values.number(upstand_key(room)), wide_band_mm(room, values)
    width = wide or values.number("waterproofing.band_width")
    leg = width - values.number("waterproofing.band_leg")
    said = (
        f"The band's wall leg of {leg:.0f} mm reaches {leg - tile_height_mm(room, values):.0f} mm over the "
        f"finished floor; at least {wanted:.0f} mm is asked."
    )
    if wide:
        said += f" Along the walls a band at least {wide:.0f} mm wide is bought for it."
    return (Finding("upstand", "pass", said, values.citation(upstand_key(room))),)


def pondable(room: Room, shape: FloorShape, values: TradeValues) -> bool:
    """Whether water can be held on the sealed floor: indoors and wet, by a drain that is closed or a curb."""
    held = room.curb or bool(_drains(room, shape, values))
    return room.waterproof and room.hardest_exposure == "wet" and held


def _drains(room: Room, shape: FloorShape, values: TradeValues) -> int:
    """Drains on the ground that is sealed."""
    if room.sealed_zones_only:
        return sealed_ground(room, shape, values).seals("drain", room, shape)
    return len(of_kind(room, "drain"))


def flood_tested(room: Room, tested: bool, values: TradeValues) -> Finding:
    """Whether the floor is flooded before tile, and what is done where it cannot be."""
    source = values.citation("waterproofing.flood_hold")
    if tested:
        hours = values.number("waterproofing.flood_hold")
        said = f"Water stands on the sealed floor for {hours:.0f} h before tile."
        return Finding("flood_test", "pass", said, source)
    place = "exterior" if room.hardest_exposure == "exterior" else "open"
    key = f"waterproofing.untested.{place}"
    return Finding("flood_test", "condition", say(values.word(key)), values.citation(key))


def _zones(room: Room, shape: FloorShape, values: TradeValues) -> tuple[Finding, ...]:
    """What of the floor is sealed where only a part of it gets wet."""
    if room.exposure != "dry" or room.hardest_exposure == "dry":
        return ()
    message = say("Only a zone of this room is wet; the whole floor is sealed, as was asked for.")
    if room.sealed_zones_only:
        message = say(
            "Only the wet zone is sealed, {part:.2f (m2)} of {whole:.2f m2} with the seams and wall bases on "
            "it: water that runs past it is not held back. Ask for waterproofing of the room where that may "
            "happen.",
            part=sealed_ground(room, shape, values).floor_m2,
            whole=shape.measures.floor_area_m2,
        )
    return (Finding("wet_zone", "condition", message, values.citation(_class_key(room))),)


def _at_doorways(room: Room, shape: FloorShape, values: TradeValues) -> tuple[Finding, ...]:
    """In a doorway of a wet room nothing holds the water back but what is built there."""
    if room.exposure != "wet" or not shape.openings:
        return ()
    key = "waterproofing.water_stop"
    return (Finding("water_stop", "condition", say(values.word(key)), values.citation(key), "water_stop"),)


def _fall(room: Room, shape: FloorShape, values: TradeValues) -> tuple[Finding, ...]:
    """A floor with a drain and a floor outdoors fall; where a floor falls, water must find a way out."""
    drained = bool(of_kind(room, "drain"))
    source, share = values.citation("waterproofing.fall"), values.number("waterproofing.fall")
    if room.falls == "none" and (drained or room.exposure == "exterior"):
        goal = say("the drain") if drained else say("a drain or a free edge")
        message = say(
            "No fall is asked for: the ground must fall at least {share:.1%} to {goal} already, "
            "as none is made; ask for falls where it does not.",
            share=share,
            goal=goal,
        )
        return (Finding("fall", "condition", message, source, "slope", accept=True),)
    if drained:
        return (_drained_fall(room, shape, values),)
    if room.falls != "none" and not shape.open_edges:
        message = say("Falls are asked for, but no drain is shown.")
        return (Finding("fall", "condition", message, source, "outlet"),)
    if room.falls == "none":
        message = say(
            "No drain is shown, so the floor stays level; a floor with a drain falls {share:.1%} to it.",
            share=share,
        )
        return (Finding("fall", "condition", message, source, "drain"),)
    return ()


def _drained_fall(room: Room, shape: FloorShape, values: TradeValues) -> Finding:
    way = furthest_from_drain_mm(room, shape)
    message = (
        f"The floor falls {values.number('waterproofing.fall'):.1%} to the drain: "
        f"{fall_mm(way, values):.0f} mm from the furthest corner, {way / 1000:.2f} m away."
    )
    return Finding("fall", "pass", message, values.citation("waterproofing.fall"))
