"""What meets the floor in a doorway: the covering next door and its level."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from service.sentence import Sentence, say
from service.takeoff.answer import Finding
from service.takeoff.build_up import finished_level_mm
from service.takeoff.geometry import FloorShape
from service.takeoff.levels import ground_mm
from service.takeoff.room import Doorway, Room
from service.takeoff.shared_doorways import own
from service.trade.values import TradeValues

Meeting = Literal["level", "reducer", "carpet", "joint", "beyond"]
UNPROFILED: frozenset[Meeting] = frozenset({"joint", "beyond"})
"""Doorways that take no profile: tile meets tile at one level, or no profile reaches over the step."""


def meeting(room: Room, doorway: Doorway, values: TradeValues, ground: float = 0.0) -> Meeting:
    """The transition profile of a doorway, the joint where tile meets tile at one level, or a step that no
    profile bridges: up to the floor next door, or further down than ramps are made.

    `ground` is what compound or screed lifts the ground there [mm]. Levels that were not given count as
    equal; a finding asks for them.
    """
    drop = _drops(values).get(doorway.adjoining or "")
    step, known = step_mm(room, doorway, values, ground), doorway.adjoining_level is not None
    if drop == "carpet":
        return drop if abs(step) <= ramp_most_mm(values) else "beyond"
    if abs(step) <= values.number("profiles.level_difference") and (drop is None or known):
        return "joint" if doorway.adjoining == "tile" else "level"
    return "reducer" if not known or 0 < step <= ramp_most_mm(values) else "beyond"


def ramp_most_mm(values: TradeValues) -> float:
    """The greatest step down that a ramped profile takes [mm]."""
    return max(float(row["to"]) for row in values.table("profiles.ramps"))


def _drops(values: TradeValues) -> Mapping[str, Meeting]:
    """Coverings that decide the profile by themselves."""
    return {row["covering"]: row["drop"] for row in values.table("profiles.transitions")}


def leaf_cut(room: Room, doorway: Doorway, values: TradeValues, ground: float = 0.0) -> bool:
    """Whether the levels say that the door's leaf would drag over the new tile; at a step that no profile
    takes the door is altered with its threshold."""
    step = step_mm(room, doorway, values, ground)
    return doorway.leaf and values.number("profiles.leaf_clearance") < step <= ramp_most_mm(values)


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
        for number, opening in own(room, shape.openings)
        for finding in (
            *_unknown(number, opening.doorway, values),
            *_stepped(room, number, opening.doorway, ground_mm(room, shape, opening, values), values),
        )
    )


def _unknown(number: int, doorway: Doorway, values: TradeValues) -> tuple[Finding, ...]:
    source = values.citation("profiles.transitions")
    covering, level = doorway.adjoining is not None, doorway.adjoining_level is not None
    if covering and level:
        return ()
    if level:
        said = say(
            "Doorway {number}: which covering adjoins? The profile is taken by the levels, to a hard floor.",
            number=number,
        )
        return (Finding("doorway_adjoining", "condition", said, source, "adjoining_covering"),)
    if covering:
        said = say(
            "Doorway {number}: at which level is the floor next door? Equal levels are taken.", number=number
        )
        return (Finding("doorway_level", "condition", said, source, "adjoining_level"),)
    said = say(
        "Doorway {number}: which covering adjoins, and at which level? A transition between equal levels "
        "is taken.",
        number=number,
    )
    return (Finding("doorway_adjoining", "condition", said, source, "adjoining"),)


def _stepped(
    room: Room, number: int, doorway: Doorway, ground: float, values: TradeValues
) -> tuple[Finding, ...]:
    step = step_mm(room, doorway, values, ground)
    if abs(step) <= values.number("profiles.level_difference"):
        return ()
    bridged = _bridged(room, doorway, ground, step, values)
    if leaf_cut(room, doorway, values, ground):
        bridged = say("{bridged}, and the door's leaf is trimmed, which is in the hours", bridged=bridged)
    said = say(
        "Doorway {number}: the tile ends {step:.0f mm} {side} the floor next door; {bridged}.",
        number=number,
        step=abs(step),
        side=say("above") if step > 0 else say("below"),
        bridged=bridged,
    )
    asks = "threshold" if meeting(room, doorway, values, ground) == "beyond" else ""
    return (Finding("doorway_step", "condition", said, values.citation("profiles.step_limit"), asks),)


def _bridged(room: Room, doorway: Doorway, ground: float, step: float, values: TradeValues) -> Sentence:
    beyond = meeting(room, doorway, values, ground) == "beyond"
    if beyond and step < 0:
        return say("its edge wants a threshold or a profile of its own, which is not priced")
    bridged = _stepped_over(step, ground, values.number("profiles.step_limit"))
    if beyond:
        return say("{bridged}; no profile is made for it and none is priced", bridged=bridged)
    return bridged


def _stepped_over(step: float, ground: float, limit: float) -> Sentence:
    if abs(step) <= limit:
        return say("a profile takes up the step")
    if ground <= limit:
        return say("more than a step of {limit:.3g mm} wants a ramp or a threshold", limit=limit)
    return say(
        "more than a step of {limit:.3g mm} wants a ramp or a threshold, or the ground or the drain lower, "
        "as it is lifted by {ground:.0f mm} here",
        limit=limit,
        ground=ground,
    )
