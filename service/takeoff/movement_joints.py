"""Movement joints: how far apart, how wide, where they run, and what fills them."""

from __future__ import annotations

from dataclasses import dataclass
from math import dist, fsum

from service.takeoff.answer import Cuts, Layout, MovementJoints, ProfileRun, Step, Work
from service.takeoff.build_up import tile_height_mm
from service.takeoff.crossings import sawn_along
from service.takeoff.doorways import parted
from service.takeoff.geometry import FloorShape
from service.takeoff.joint_parts import field_joints
from service.takeoff.joint_rules import findings, joint_width_mm, limit_of, limits_of
from service.takeoff.levels import ground_mm
from service.takeoff.profiles import MM_PER_M, fittings, stock
from service.takeoff.room import Room
from service.takeoff.setting import cutting
from service.takeoff.shared_doorways import own
from service.trade.values import TradeValues

CAPS = "end caps of movement joint profiles"


@dataclass(frozen=True, slots=True)
class MovementJointsTake:
    """The joints, and the runs of profile that make them where profiles are wanted."""

    answer: MovementJoints
    step: Step
    profiles: tuple[ProfileRun, ...] = ()


def take(room: Room, shape: FloorShape, layout: Layout, values: TradeValues) -> MovementJointsTake:
    """Joints of the field, at doorways and around the floor [m].

    Where profiles are wanted they are bought and set here; sealant joints are filled with the perimeter. Tile
    sawn along a joint is work beyond the layout's own cuts.
    """
    limit, limits = limit_of(room, values), limits_of(room, values)
    field = field_joints(room, shape, layout, limits, values.number("movement_joints.least_part"))
    doorways = [
        opening
        for _, opening in own(room, shape.openings)
        if parted(room, opening.doorway, values, ground_mm(room, shape, opening, values))
    ]
    answer = MovementJoints(
        perimeter_length_m=shape.measures.wall_length_m,
        field_length_m=fsum(dist(*line) for line in field.lines) / MM_PER_M,
        doorway_length_m=fsum(opening.doorway.width for opening in doorways) / MM_PER_M,
        width_mm=joint_width_mm(room, limit, field.widest_mm, values),
        max_spacing_m=limit.spacing_mm / MM_PER_M,
        lines=(*field.lines, *((opening.start, opening.end) for opening in doorways)),
        parts=field.parts,
        longest_part_m=field.widest_mm / MM_PER_M,
        largest_part_m2=field.largest_m2,
    )
    sawn = sawn_along(field.sawn, layout.plan, room.min_piece).cuts if layout.plan else Cuts()
    runs = _profiles(room, answer, values) if room.movement_joint == "profile" else ()
    step = Step(
        materials=(
            *stock("movement_joint_profile", [(run, 0) for run in runs], room, values),
            *fittings(room, {CAPS: len(runs) * int(values.number("profiles.joint_caps"))}),
        ),
        work=(*_work(runs), *cutting(sawn, room.tile)),
        findings=findings(room, answer, field, limits, values),
    )
    return MovementJointsTake(answer, step, runs)


def _profiles(room: Room, answer: MovementJoints, values: TradeValues) -> tuple[ProfileRun, ...]:
    height = tile_height_mm(room, values)
    return tuple(
        ProfileRun("movement_joint", dist(*line) / MM_PER_M, height, f"movement joint {number}")
        for number, line in enumerate(answer.lines)
    )


def _work(runs: tuple[ProfileRun, ...]) -> tuple[Work, ...]:
    metres = fsum(run.length_m for run in runs)
    return (Work("movement_joint", "metres", metres, "m"),) if metres else ()
