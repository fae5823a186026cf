"""One room through all trade steps, in the order of building."""

from __future__ import annotations

from dataclasses import dataclass, replace

from service.takeoff import (
    assembly,
    assumptions,
    checks,
    cove,
    existing,
    folds,
    grout,
    levelling,
    membrane,
    mortar,
    movement_joints,
    office_choices,
    profiles,
    sealant,
    setting,
    skirting,
    substrate,
    waterproofing,
)
from service.takeoff.answer import Layout, MembraneLayout, RoomTakeoff, Step
from service.takeoff.geometry import FloorShape, floor_shape
from service.takeoff.layout import lay_out
from service.takeoff.merge import owned
from service.takeoff.parts import joined
from service.takeoff.room import Room
from service.takeoff.shared import Shared, ground_of, tiled
from service.trade.values import TradeValues


@dataclass(frozen=True, slots=True)
class RoomFlow:
    """What one room answers, and what it adds to the job."""

    answer: RoomTakeoff
    step: Step


def room_flow(room: Room, values: TradeValues, shared: Shared) -> RoomFlow:
    """Take off one room; InputError with a pointer relative to the room where no floor can be so."""
    return shared.once("room", room, lambda: _room_flow(room, values, shared))


def _room_flow(room: Room, values: TradeValues, shared: Shared) -> RoomFlow:
    ground, floor = ground_of(room), tiled(room)
    shape = shared.once("shape", ground, lambda: floor_shape(ground))
    laid = shared.once("layout", floor, lambda: lay_out(floor, shape, values))
    strips = _strips(room, ground, shape, values, shared)
    folded = folds.take(room, shape, laid, values)
    layout = folded.layout
    room = _as_laid(room, layout)
    mat = membrane.take(room, shape, strips, values)
    sealing = waterproofing.take(room, shape, layout, mat.answer, values)
    joints = movement_joints.take(room, shape, layout, values)
    edging = profiles.take(room, shape, layout, values)
    edge = cove.take(room, shape, values)
    base = skirting.take(room, shape, layout, values)
    step = joined(
        existing.take(room, shape, layout, values),
        substrate.take(room, shape, layout, values),
        levelling.take(room, shape, layout, values),
        folded.step,
        mat.step,
        sealing.step,
        mortar.take(room, shape, layout, sealing.answer, values),
        setting.take(room, shape, layout, values),
        edging.step,
        grout.take(room, shape, layout, values),
        joints.step,
        edge.step,
        sealant.take(room, shape, layout, joints.answer, values, edge.length_m),
        base.step,
        checks.take(room, shape, layout, values),
    )
    answer = RoomTakeoff(
        name=room.name,
        measures=shape.measures,
        layout=layout,
        membrane=mat.answer,
        waterproofing=sealing.answer,
        movement_joints=joints.answer,
        profiles=(*edging.answer, *joints.profiles, *edge.answer, *base.answer),
        findings=assumptions.stated(
            (
                *step.findings,
                *assembly.findings(room, step.waits, values),
                *office_choices.unneeded(room, step.materials, values),
            ),
            values,
        ),
        folds=folded.answer,
    )
    own = tuple(owned(material, room) for material in step.materials)
    return RoomFlow(answer, replace(step, materials=own))


def _strips(
    room: Room, ground: Room, shape: FloorShape, values: TradeValues, shared: Shared
) -> MembraneLayout | None:
    """The membrane's strips depend on the floor and on the width of its roll."""
    chosen = room.membrane
    if chosen is None:
        return None
    return shared.once("strips", (ground, chosen.roll_width), lambda: membrane.lay(shape, chosen, values))


def _as_laid(room: Room, layout: Layout) -> Room:
    """With the rotation that the search has chosen."""
    rotation = layout.plan.lattice.rotation_deg if layout.plan else room.pattern.rotation
    return replace(room, pattern=replace(room.pattern, rotation=rotation))
