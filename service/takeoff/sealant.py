"""Sealant joints: sealant, backer rod or bond-breaker tape, and the work."""

from __future__ import annotations

from dataclasses import dataclass

from service.takeoff.answer import Fitness, Layout, Material, MovementJoints, Step, Wait, Work
from service.takeoff.build_up import tile_height_mm
from service.takeoff.geometry import FloorShape
from service.takeoff.parts import Part, material
from service.takeoff.room import Room
from service.trade.values import TradeValues

NOISE_M = 1e-6


@dataclass(frozen=True, slots=True)
class Run:
    """A length of joint [m] with its width [mm] and where it runs."""

    place: str
    length_m: float
    width_mm: float


def take(
    room: Room,
    shape: FloorShape,
    layout: Layout,
    joints: MovementJoints,
    values: TradeValues,
    profiled_m: float = 0.0,
) -> Step:
    """Sealant [ml], backer rod or bond-breaker tape [m] and sealing [m] of one room.

    The perimeter is sealed but for `profiled_m` of it, where a profile goes between floor and wall; joints in
    the field and at doorways only where no profile makes them.
    """
    along = runs(room, joints, profiled_m)
    if not along:
        return Step()
    metres = sum(run.length_m for run in along)
    return Step(
        materials=(*_sealant(room, along, values), *_backing(room, along, values)),
        work=(Work("sealant", "metres", metres, "m"),),
        waits=(
            Wait("grouting", values.number("sealant.after_grout"), values.citation("sealant.after_grout")),
        ),
    )


def runs(room: Room, joints: MovementJoints, profiled_m: float = 0.0) -> tuple[Run, ...]:
    """The joints of this room that are filled with sealant."""
    perimeter = Run("perimeter", joints.perimeter_length_m - profiled_m, room.perimeter_joint)
    inner = (
        Run("field", joints.field_length_m, joints.width_mm),
        Run("doorways", joints.doorway_length_m, joints.width_mm),
    )
    wanted = (perimeter, *inner) if room.movement_joint == "sealant" else (perimeter,)
    return tuple(run for run in wanted if run.length_m > NOISE_M and run.width_mm > 0)


def depth_mm(width_mm: float, values: TradeValues) -> float:
    """Depth of sealant [mm] in a joint of this width [mm].

    As deep as wide up to the square limit; beyond it that depth, or half the width where that is more.
    Never deeper than wide, and never under the least depth unless the joint itself is narrower.
    """
    square, least = values.number("sealant.square_up_to"), values.number("sealant.least_depth")
    return min(width_mm, max(square, width_mm / 2, least))


def volume_ml(length_m: float, width_mm: float, depth: float) -> float:
    """Sealant [ml] in a joint: 14 m of 6 x 6 mm take 504 ml before loss."""
    return length_m * width_mm * depth


def metres_per_cartridge(cartridge_ml: float, width_mm: float, depth: float) -> float:
    """Length of joint [m] that a cartridge fills: 310 ml at 6 x 6 mm give 8.611 m."""
    return cartridge_ml / (width_mm * depth)


def rod_fits(width_mm: float, joint_depth_mm: float, values: TradeValues) -> bool:
    """Whether a backer rod finds room under the sealant in a joint of this depth [mm]."""
    rod = width_mm * (1 + values.number("sealant.rod_over"))
    return joint_depth_mm >= depth_mm(width_mm, values) + rod


def rod_diameters(width_mm: float, values: TradeValues) -> tuple[float, float]:
    """Least and greatest diameter [mm] of rod for a joint: 25 to 33 % over, or the next size made."""
    least = width_mm * (1 + values.number("sealant.rod_over"))
    most = width_mm * (1 + values.number("sealant.rod_over_most"))
    sizes = (float(row["diameter"]) for row in values.table("sealant.rod_sizes"))
    return least, max(most, min((size for size in sizes if size >= least), default=most))


def _sealant(room: Room, along: tuple[Run, ...], values: TradeValues) -> tuple[Material, ...]:
    wet = () if room.hardest_exposure == "dry" else (Fitness("wet", one_of=("yes",)),)
    return material(
        "sealant",
        "ml",
        [_filling(run, values) for run in along],
        ("loss", values.number("sealant.loss")),
        room=room.name,
        fitness=(Fitness("use", one_of=("floor",)), *wet),
    )


def _filling(run: Run, values: TradeValues) -> Part:
    depth = depth_mm(run.width_mm, values)
    text = f"{run.place}: {run.length_m:.2f} m, {run.width_mm:g} x {depth:g} mm"
    return text, volume_ml(run.length_m, run.width_mm, depth)


def _backing(room: Room, along: tuple[Run, ...], values: TradeValues) -> list[Material]:
    """What keeps the sealant off the ground of the joint, one product for each width."""
    return [
        backing
        for width in sorted({run.width_mm for run in along})
        for backing in _behind([run for run in along if run.width_mm == width], width, room, values)
    ]


def _behind(same: list[Run], width: float, room: Room, values: TradeValues) -> tuple[Material, ...]:
    if rod_fits(width, tile_height_mm(room, values), values):
        least, most = rod_diameters(width, values)
        role, wanted = "backer_rod", Fitness("diameter_mm", at_least=least, at_most=most)
    else:
        # A tape wider than the joint is trimmed, a narrower one lets the sealant bond to the ground.
        role, wanted = "bond_breaker_tape", Fitness("width_mm", at_least=width)
    lengths = [(run.place, run.length_m) for run in same]
    loss = ("loss", values.number("sealant.backing_loss"))
    return material(role, "m", lengths, loss, room=room.name, fitness=(wanted,))
