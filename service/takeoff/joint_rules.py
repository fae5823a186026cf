"""The limits of movement joints by country, exposure, heating and substrate, and what is said of them."""

from __future__ import annotations

from math import ceil, dist, fsum, inf

from shapely import Polygon

from service.sentence import say
from service.takeoff.answer import Finding, MovementJoints
from service.takeoff.doorways import heated
from service.takeoff.joint_lines import Limit
from service.takeoff.joint_parts import FieldJoints, Limits
from service.takeoff.room import SLABS, Exposure, Room
from service.trade.values import TradeValues

RIGID = ("concrete", "screed", "exterior_slab")
"""Beginnings of the names of substrates that have joints of their own."""
NOISE = 1e-9


def limit_of(room: Room, values: TradeValues) -> Limit:
    """The strictest spacing, part size and width of all that applies somewhere on this floor."""
    return _limit(room, (room.exposure, *(zone.exposure for zone in room.zones)), _sunlit(room), values)


def limits_of(room: Room, values: TradeValues) -> Limits:
    """What applies to the whole floor, and to its zones."""
    zones = (
        (Polygon(zone.outline), _limit(room, (room.exposure, zone.exposure), zone.sunlit, values))
        for zone in room.zones
    )
    base = _limit(room, (room.exposure,), False, values)
    return Limits(base, tuple((zone, limit) for zone, limit in zones if limit != base))


def _limit(room: Room, met: tuple[Exposure, ...], sunlit: bool, values: TradeValues) -> Limit:
    spacings = _in_force("spacing", room, met, sunlit, values)
    key = min(spacings, key=values.number)
    widths, areas = (_in_force(what, room, met, sunlit, values) for what in ("width", "area"))
    return Limit(
        spacing_mm=values.number(key),
        spacing_key=key,
        width_mm=max(values.number(width) for width in widths),
        area_m2=min((values.number(area) for area in areas), default=inf),
    )


def _sunlit(room: Room) -> bool:
    return any(zone.sunlit for zone in room.zones)


def joint_width_mm(room: Room, limit: Limit, bay_mm: float, values: TradeValues) -> float:
    """Width of the field's joints [mm]; outdoors it may go by the widest bay between joints [mm]."""
    by_range = "movement_joints.range_step" in values.by_key
    if room.hardest_exposure == "exterior" and by_range:
        return exterior_width_mm(bay_mm, values)
    return limit.width_mm


def exterior_width_mm(bay_mm: float, values: TradeValues) -> float:
    """Width of an exterior joint [mm] by spacing and by the yearly range of temperature over 100 °F.

    12 ft apart at a range of 115 °F wants 9/16 in (TCNA EJ171).
    """
    close = bay_mm <= values.number("movement_joints.close_spacing.exterior") + NOISE
    width = values.number(f"movement_joints.{'close_width' if close else 'width'}.exterior")
    over = values.number("movement_joints.temperature_range") - values.number("movement_joints.range_base")
    steps = max(ceil(over / values.number("movement_joints.range_step") - NOISE), 0)
    return width + steps * values.number("movement_joints.range_widening")


def findings(
    room: Room, answer: MovementJoints, field: FieldJoints, limits: Limits, values: TradeValues
) -> tuple[Finding, ...]:
    """Spacing, width, filling and places of the joints, with their sources."""
    return (
        _spacing(answer, field, limits, values),
        *_width(answer, values, room),
        *_sawn(field, values),
        _filling(values),
        *_at_walls(room, answer, values),
        *_carried_through(room, values),
    )


def _suspended(room: Room) -> bool:
    """A slab that spans; one whose deflection was told spans too, else it would have none."""
    ground = room.substrate
    told = ground.kind in SLABS and ground.beneath is None and ground.deflection is not None
    return ground.structure == "concrete_suspended" or told


def _in_force(
    what: str, room: Room, met: tuple[Exposure, ...], sunlit: bool, values: TradeValues
) -> list[str]:
    """The keys of a limit that apply where these exposures are met and that the country's standards have."""
    cases = {
        "exterior": "exterior" in met,
        "interior": True,
        "moist": set(met) != {"dry"},
        "sunlit": sunlit,
        "suspended": _suspended(room),
        "heated": heated(room),
    }
    keys = [f"movement_joints.{what}.{case}" for case, holds in cases.items() if holds]
    return [key for key in keys if key in values.by_key]


def _spacing(answer: MovementJoints, field: FieldJoints, limits: Limits, values: TradeValues) -> Finding:
    strictest = min((limits.base, *(limit for _, limit in limits.zones)), key=lambda limit: limit.spacing_mm)
    zoned = f", {_words(strictest)} in zones" if strictest != limits.base else ""
    message = (
        f"Movement joints {_words(limits.base)}{zoned}: {answer.field_length_m:.2f} m in the field; "
        f"parts of it: {field.parts}, the longest {field.widest_mm / 1000:.2f} m, "
        f"the largest {field.largest_m2:.2f} m2. The designer of the floor answers for their places."
    )
    return Finding("movement_joint_spacing", "pass", message, values.citation(strictest.spacing_key))


def _words(limit: Limit) -> str:
    part = "" if limit.area_m2 == inf else f" with parts of at most {limit.area_m2:.0f} m2"
    return f"at most {limit.spacing_mm / 1000:.2f} m apart{part}"


def _width(answer: MovementJoints, values: TradeValues, room: Room) -> tuple[Finding, ...]:
    if not answer.lines:
        return ()
    met = (room.exposure, *(zone.exposure for zone in room.zones))
    key = max(_in_force("width", room, met, _sunlit(room), values), key=values.number)
    message = f"Joints in the field and at doorways are at least {answer.width_mm:.4g} mm wide."
    return (Finding("movement_joint_width", "pass", message, values.citation(key)),)


def _sawn(field: FieldJoints, values: TradeValues) -> tuple[Finding, ...]:
    if field.along_grout:
        return ()
    metres = fsum(dist(*line) for line in field.sawn) / 1000
    message = say(
        "{length:.2f m} of movement joint follow no straight grout joint: tile is sawn along them. Where a "
        "bond's stepped joint is taken instead, the profile or sealant runs in steps.",
        length=metres,
    )
    return (
        Finding("movement_joint_cuts", "condition", message, values.citation("movement_joints.on_grout")),
    )


def _filling(values: TradeValues) -> Finding:
    key = "movement_joints.filling"
    message = f"Movement joints are kept free of mortar and take {values.word(key)}."
    return Finding("movement_joint_filling", "pass", message, values.citation(key))


def _at_walls(room: Room, answer: MovementJoints, values: TradeValues) -> tuple[Finding, ...]:
    """The soft joint around the floor; a floor that meets neither wall nor column has none."""
    plane = "movement_joints.change_of_plane"
    if not answer.perimeter_length_m:
        message = "The floor meets no wall and no column: there is no joint around it."
        return (Finding("change_of_plane", "pass", message, values.citation(plane)),)
    key = f"movement_joints.perimeter_width{'.heated' if heated(room) else ''}"
    wanted, left = values.number(key), room.perimeter_joint
    if left <= NOISE:
        message = say(
            "No joint is left at walls and columns, {wanted:g mm} are wanted there: tile that stands hard "
            "against them can lift or crack when it grows.",
            wanted=wanted,
        )
        return (Finding("perimeter_joint", "condition", message, values.citation(key)),)
    message = "A soft joint runs wherever the floor meets walls, columns, pipes or another plane."
    found = (Finding("change_of_plane", "pass", message, values.citation(plane)),)
    if left >= wanted - NOISE:
        return found
    message = say("A perimeter joint of {left:g mm} is under {wanted:g mm}.", left=left, wanted=wanted)
    return (*found, Finding("perimeter_joint", "condition", message, values.citation(key)))


def _carried_through(room: Room, values: TradeValues) -> tuple[Finding, ...]:
    if not room.substrate.bearing.startswith(RIGID):
        return ()
    key = "movement_joints.substrate_joints"
    message = say(
        "Joints found in the substrate are {treated}; look for them before laying.",
        treated=say(values.word(key)),
    )
    return (Finding("substrate_joints", "condition", message, values.citation(key)),)
