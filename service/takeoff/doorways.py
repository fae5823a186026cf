"""What meets the floor in a doorway: the covering next door and its level."""

from __future__ import annotations

from typing import Literal

from service.takeoff.answer import Finding
from service.takeoff.build_up import finished_level_mm
from service.takeoff.geometry import FloorShape
from service.takeoff.levels import ground_mm
from service.takeoff.room import Doorway, Room
from service.trade.values import TradeValues

Meeting = Literal["level", "reducer", "carpet", "joint"]


def meeting(room: Room, doorway: Doorway, values: TradeValues, ground: float = 0.0) -> Meeting:
    """The transition profile of a doorway, or the joint where tile meets tile at one level.

    `ground` is what compound or screed lifts the ground there [mm]. Levels that were not given count as
    equal; a finding asks for them.
    """
    named = {row["covering"]: row["drop"] for row in values.table("profiles.transitions")}
    if doorway.adjoining in named:
        drop: Meeting = named[doorway.adjoining]
        return drop
    if abs(step_mm(room, doorway, values, ground)) > values.number("profiles.level_difference"):
        return "reducer"
    return "joint" if doorway.adjoining == "tile" else "level"


def step_mm(room: Room, doorway: Doorway, values: TradeValues, ground: float = 0.0) -> float:
    """How far the tiled floor stands above the one next door [mm]; 0 where that level was not given."""
    if doorway.adjoining_level is None:
        return 0.0
    return ground + finished_level_mm(room, values) - doorway.adjoining_level


def heated(room: Room) -> bool:
    return room.heating != "none" or room.substrate.kind == "screed_heated"


def parted(room: Room, doorway: Doorway, values: TradeValues, ground: float = 0.0) -> bool:
    """Whether a movement joint runs through it: by country, over heating, or between tile and tile."""
    keys = ["movement_joints.at_doorways"]
    if heated(room):
        keys.append("movement_joints.at_heated_doorways")
    return any(values.word(key) == "yes" for key in keys) or meeting(room, doorway, values, ground) == "joint"


def doorway_findings(room: Room, shape: FloorShape, values: TradeValues) -> tuple[Finding, ...]:
    """What is not known of the doorways, and where a step or a door leaf wants attention."""
    return tuple(
        finding
        for number, opening in enumerate(shape.openings)
        for finding in (
            *_unknown(number, opening.doorway, values),
            *_stepped(room, number, opening.doorway, ground_mm(room, shape, opening, values), values),
        )
    )


def _unknown(number: int, doorway: Doorway, values: TradeValues) -> tuple[Finding, ...]:
    source = values.citation("profiles.transitions")
    if doorway.adjoining is None:
        message = f"Doorway {number}: which covering adjoins? A transition between equal levels is taken."
        return (Finding("doorway_adjoining", "condition", message, source, "adjoining"),)
    by_level = doorway.adjoining not in {row["covering"] for row in values.table("profiles.transitions")}
    if by_level and doorway.adjoining_level is None:
        message = f"Doorway {number}: at which level is the floor next door? Equal levels are taken."
        return (Finding("doorway_level", "condition", message, source, "adjoining"),)
    return ()


def _stepped(
    room: Room, number: int, doorway: Doorway, ground: float, values: TradeValues
) -> tuple[Finding, ...]:
    step, limit = step_mm(room, doorway, values, ground), values.number("profiles.step_limit")
    if abs(step) <= values.number("profiles.level_difference"):
        return ()
    way = "above" if step > 0 else "below"
    text = f"Doorway {number}: the tile ends {abs(step):.0f} mm {way} the floor next door; "
    if abs(step) > limit:
        text += f"more than a step of {limit:.3g} mm wants a ramp or a threshold"
        if ground > limit:
            text += f", or the ground or the drain lower, as it is lifted by {ground:.0f} mm here"
    else:
        text += "a profile takes up the step"
    if step > 0:
        text += ", and a door leaf over the tile is trimmed by that much, which is not priced"
    text += "."
    return (Finding("doorway_step", "condition", text, values.citation("profiles.step_limit")),)
