"""Skirting cut from the floor's own tile: strips, the tiles they come from, a profile over the top."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from service.cutting.runs import CutLengths, runs_of
from service.sentence import say
from service.takeoff.answer import Finding, Layout, Material, ProfileRun, Reason, Step, Work
from service.takeoff.geometry import FloorShape
from service.takeoff.lattice import work_size
from service.takeoff.profiles import MM_PER_M, fittings, profile_work, stock
from service.takeoff.room import Room, Skirting
from service.takeoff.sticks import from_sticks, proof
from service.takeoff.wall_stretches import Stretch, pieces, step_along, stretches
from service.trade.values import TradeValues

NOISE = 1e-9
CUT_MM = 0.01  # a piece shorter by more than this is cut to length
CORNERS = "corner pieces of the profile over the skirting"


@dataclass(frozen=True, slots=True)
class Strips:
    """Skirting strips, how many come from a tile by ripping it along its longer edge, and their laying.

    `cut` of their pieces are shorter than a strip; along `lined_up` of the `stretches` of wall their joints
    are in line with the floor's.
    """

    count: int
    a_tile: int
    cut: int = 0
    lined_up: int = 0
    stretches: int = 0
    proof: str = ""  # of their number, in words

    @property
    def tiles(self) -> int:
        return ceil(self.count / self.a_tile)


@dataclass(frozen=True, slots=True)
class SkirtingTake:
    answer: tuple[ProfileRun, ...]
    step: Step


def take(room: Room, shape: FloorShape, layout: Layout, values: TradeValues) -> SkirtingTake:
    """Skirting tiles [piece], the profile over them [m] where one is chosen, cuts and setting [m]."""
    walls = stretches(shape)
    if room.skirting is None or not walls:
        return SkirtingTake((), Step())
    runs = _profiles(room, walls)
    strips = strips_of(room, room.skirting, walls, layout, covered=bool(runs), values=values)
    if not strips.a_tile:
        return SkirtingTake((), Step(findings=(_too_high(room, room.skirting, values),)))
    corners = shape.measures.inside_corners + shape.measures.outside_corners
    step = Step(
        materials=(
            _tiles(room, room.skirting, strips, values, covered=bool(runs)),
            *stock("skirting_profile", [(run, 0) for run in runs], room, values),
            *fittings(room, {CORNERS: corners if runs else 0}),
        ),
        work=_work(room, room.skirting, shape, strips, runs),
    )
    return SkirtingTake(runs, step)


def strips_of(
    room: Room,
    skirting: Skirting,
    walls: Sequence[Stretch],
    layout: Layout,
    *,
    covered: bool,
    values: TradeValues,
) -> Strips:
    """The fewest strips that give all pieces along the walls, and how many strips a tile gives.

    13.1 m in five stretches of tile 600 x 300 with joints of 3 take 22 strips of 95 mm: from 11 tiles with a
    factory edge on each strip, from 8 where a profile covers the top (`covered`).
    """
    depth, length = sorted(work_size(room.tile, room.joint))
    most = strips_across(depth, skirting.height, room.saw.kerf)
    edges = int(values.number("skirting.factory_edges"))
    steps = [step_along(wall, layout, length, room.joint) for wall in walls]
    laid = runs_of(piece for wall, step in zip(walls, steps, strict=True) for piece in pieces(wall, step))
    plan = from_sticks(CutLengths(laid, room.saw.kerf), length)
    return Strips(
        count=plan.sticks,
        a_tile=most if covered else min(most, edges),
        cut=sum(count for piece, count in laid if piece < length - CUT_MM),
        lined_up=sum(step.lined_up for step in steps),
        stretches=len(walls),
        proof=proof(plan),
    )


def strips_across(depth_mm: float, height_mm: float, kerf_mm: float) -> int:
    """Strips ripped from a depth of tile with a kerf between two: 300 mm give 2 of 100 and 3 of 95."""
    return int((depth_mm + kerf_mm) / (height_mm + kerf_mm) + NOISE)


def rips(room: Room, skirting: Skirting, strips: Strips) -> int:
    """Cuts along the tile: one a strip, but none for the last of a tile that is used up."""
    depth = min(work_size(room.tile, room.joint))
    used = strips.a_tile * skirting.height + (strips.a_tile - 1) * room.saw.kerf
    used_up = abs(depth - used) < NOISE
    return strips.count - (strips.count // strips.a_tile if used_up else 0)


def _profiles(room: Room, walls: Sequence[Stretch]) -> tuple[ProfileRun, ...]:
    """The profile over the skirting, as high as the tile is thick, where the office has chosen one."""
    if room.chosen("skirting_profile") is None:
        return ()
    return tuple(
        ProfileRun(
            "skirting", wall.length / MM_PER_M, room.tile.thickness, f"top of the skirting, {wall.place}"
        )
        for wall in walls
    )


def _tiles(room: Room, skirting: Skirting, strips: Strips, values: TradeValues, *, covered: bool) -> Material:
    broken = ceil(values.number("skirting.breakage") * strips.tiles - NOISE)
    hidden = "under the profile or at the floor" if covered else "at the floor, a factory edge on top"
    cut = (
        f"{strips.count} strips {skirting.height:g} mm high, {strips.proof}, {strips.a_tile} a tile; "
        f"cut edge {hidden}; "
        f"joints in line with the floor's along {strips.lined_up} of {strips.stretches} stretches of wall"
    )
    return Material(
        role="skirting_tile",
        unit="piece",
        required=strips.tiles,
        with_allowance=strips.tiles + broken,
        reasons=(Reason(cut, strips.tiles), Reason("breakage", broken)),
        product=room.tile.product,
        rooms=(room.name,),
        piece_m2=room.tile.length * room.tile.width / 1e6,
    )


def _work(
    room: Room, skirting: Skirting, shape: FloorShape, strips: Strips, runs: tuple[ProfileRun, ...]
) -> tuple[Work, ...]:
    """Ripping, cutting to length what is no whole strip, setting, and the profile on top."""
    cuts = Work("cut_straight", "cuts", rips(room, skirting, strips) + strips.cut, "cut")
    setting = Work("skirting", "metres", shape.measures.wall_length_m, "m")
    return (cuts, setting, profile_work(runs)) if runs else (cuts, setting)


def _too_high(room: Room, skirting: Skirting, values: TradeValues) -> Finding:
    message = say(
        "The skirting is not priced: {height:g mm} high, it cannot be cut from a tile {depth:g mm} deep. "
        "Choose a lower one or price it by itself.",
        height=skirting.height,
        depth=min(work_size(room.tile, room.joint)),
    )
    return Finding("skirting", "condition", message, values.citation("skirting.factory_edges"))
