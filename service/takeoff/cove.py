"""The profile between floor and wall, where it takes the place of the sealant there, with its fittings."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import fsum

from service.takeoff.answer import Finding, ProfileRun, Step, Work
from service.takeoff.build_up import tile_height_mm
from service.takeoff.geometry import FloorShape
from service.takeoff.profiles import MM_PER_M, fittings, stock
from service.takeoff.room import Room
from service.takeoff.wall_stretches import Stretch, stretches
from service.trade.values import TradeValues

INSIDE = "inside corner pieces of the profile between floor and wall"
OUTSIDE = "outside corner pieces of the profile between floor and wall"
CAPS = "end caps of the profile between floor and wall"


@dataclass(frozen=True, slots=True)
class CoveTake:
    """The runs of profile, and what they take."""

    answer: tuple[ProfileRun, ...] = ()
    step: Step = field(default_factory=Step)

    @property
    def length_m(self) -> float:
        """Of the floor's edge that needs no sealant."""
        return fsum(run.length_m for run in self.answer)


def take(room: Room, shape: FloorShape, values: TradeValues) -> CoveTake:
    """Profile [m], its corner pieces, end caps and connectors [piece], and setting it [m].

    Around what is round the joint is sealed. Where two stretches of wall meet at a corner a corner piece
    joins them; every other end takes a cap.
    """
    if room.floor_to_wall == "sealant":
        return CoveTake()
    straight = [stretch for stretch in stretches(shape) if not stretch.round]
    runs = tuple(_run(room, stretch, values) for stretch in straight)
    if not runs:
        return CoveTake()
    inside, outside = shape.measures.inside_corners, shape.measures.outside_corners
    step = Step(
        materials=(
            *stock("cove_profile", [(run, 0) for run in runs], room, values),
            *fittings(room, {INSIDE: inside, OUTSIDE: outside, CAPS: _caps(straight, inside + outside)}),
        ),
        work=(Work("cove_profile", "profile_metres", fsum(run.length_m for run in runs), "m"),),
        findings=(_told(values),),
    )
    return CoveTake(runs, step)


def _run(room: Room, stretch: Stretch, values: TradeValues) -> ProfileRun:
    height = tile_height_mm(room, values)
    return ProfileRun("cove", stretch.length / MM_PER_M, height, f"floor to wall, {stretch.place}")


def _caps(straight: list[Stretch], corners: int) -> int:
    return max(2 * len(straight) - 2 * corners, 0)


def _told(values: TradeValues) -> Finding:
    key = "profiles.floor_to_wall"
    return Finding("floor_to_wall", "pass", values.word(key), values.citation(key))
