"""What lies under and beside one room's tile, as plain data: membrane, sealing, joints, profiles."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from service.takeoff.room import Point


@dataclass(frozen=True, slots=True)
class MembraneStrip:
    """One strip of membrane as laid: from, to [mm in the room's coordinates] and its length."""

    start: Point
    end: Point
    width_mm: float
    length_m: float


@dataclass(frozen=True, slots=True)
class MembraneLayout:
    strips: tuple[MembraneStrip, ...]
    seam_length_m: float
    rolls: int  # of the trade values' usual roll, an orientation only: rolls are bought in pricing
    area_m2: float  # of roll cut off for the strips, narrow ones side by side
    seams: tuple[tuple[Point, Point], ...] = ()  # where strips butt [mm in the room's coordinates]
    rolls_bound: int = 0  # no way to cut these strips takes fewer of the usual roll
    rolls_method: str = ""  # the last step of the search for them

    @property
    def rolls_gap(self) -> int:
        """Rolls by which the count may lie over the fewest possible; 0 where it is proven."""
        return self.rolls - self.rolls_bound


@dataclass(frozen=True, slots=True)
class Waterproofing:
    band_length_m: float
    inside_corners: int
    outside_corners: int
    pipe_seals: int
    drain_seals: int
    upstand_mm: float | None = None  # how far over the finished floor the wall is sealed
    wall_band_m: float = 0.0  # of the band's length, along wall bases


@dataclass(frozen=True, slots=True)
class MovementJoints:
    """Joints of the field and at its edge; `lines` are their places in the room [mm]."""

    perimeter_length_m: float
    field_length_m: float
    doorway_length_m: float
    width_mm: float
    max_spacing_m: float
    lines: tuple[tuple[Point, Point], ...] = ()
    parts: int = 1  # that the joints leave of the field
    longest_part_m: float = 0.0
    largest_part_m2: float = 0.0


@dataclass(frozen=True, slots=True)
class ProfileRun:
    """A run of edge, transition, skirting, floor-to-wall (cove) or movement joint profile."""

    kind: Literal["edge", "transition", "skirting", "cove", "movement_joint"]
    length_m: float
    height_mm: float
    place: str
