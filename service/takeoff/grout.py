"""Grout from the volume of the joints."""

from __future__ import annotations

from service.takeoff.answer import Fitness, Layout, Step, Work
from service.takeoff.geometry import FloorShape
from service.takeoff.parts import Part, material
from service.takeoff.room import Room
from service.trade.values import TradeValues

ML_PER_L = 1000.0


def take(room: Room, shape: FloorShape, layout: Layout, values: TradeValues) -> Step:
    """Grout [kg] and grouting [m of joint] of one room; joints are filled to the tile's thickness."""
    metres = layout.joint_length_m if room.joint else 0.0
    wanted = (Fitness("joint_min_mm", at_most=room.joint), Fitness("joint_max_mm", at_least=room.joint))
    return Step(
        materials=material(
            "grout",
            "kg",
            [_filling(room, layout, metres, values)],
            ("loss", values.number("grout.loss")),
            room=room.name,
            fitness=wanted,
        ),
        work=(Work("grout", "metres", metres, "m"),) if metres else (),
    )


def kg_by_length(metres: float, joint_mm: float, depth_mm: float, density: float) -> float:
    """Grout [kg] in a length of joint [m] of this width and depth [mm]; density [kg/l]."""
    return metres * joint_mm * depth_mm / ML_PER_L * density


def short_form(length_mm: float, width_mm: float, depth_mm: float, joint_mm: float, density: float) -> float:
    """Grout [kg/m2] by the handbook's short form (A + B)/(A B) x D x W x r.

    300 x 300 x 8 mm, joint 3 mm, 1.6 kg/l: 0.2560 kg/m2. It counts crossings twice and leaves the joints
    out of the area, so it lies 1 to 6 % above `exact_form`.
    """
    return (length_mm + width_mm) / (length_mm * width_mm) * depth_mm * joint_mm * density


def exact_form(length_mm: float, width_mm: float, depth_mm: float, joint_mm: float, density: float) -> float:
    """Grout [kg/m2] from the exact volume of joints, D x (1 - A B/((A + W)(B + W))) x r.

    300 x 300 x 8 mm, joint 3 mm, 1.6 kg/l: 0.2522 kg/m2.
    """
    module = (length_mm + joint_mm) * (width_mm + joint_mm)
    return depth_mm * (1 - length_mm * width_mm / module) * density


def _filling(room: Room, layout: Layout, metres: float, values: TradeValues) -> Part:
    depth = max(tile.thickness for tile in room.tiles)
    kind = "joints as laid out" if layout.laid_out else "joints by area"
    text = f"{kind}, {room.joint:g} mm wide and {depth:g} mm deep"
    return text, kg_by_length(metres, room.joint, depth, values.number("grout.density"))
