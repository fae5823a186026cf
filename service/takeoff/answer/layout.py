"""How one room's tile lies: its measures, pieces, cuts and start, as plain data."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from service.takeoff.room import Point, Ring

CutKind = Literal["straight", "diagonal", "notch_l", "notch_u", "hole", "curve"]


@dataclass(frozen=True, slots=True)
class Measures:
    """The room's figures. An L-shaped room has 5 inside corners and 1 outside, a square column 4 outside."""

    floor_area_m2: float
    perimeter_m: float
    wall_length_m: float
    inside_corners: int
    outside_corners: int


@dataclass(frozen=True, slots=True)
class Cuts:
    straight: int = 0
    diagonal: int = 0
    notch_l: int = 0
    notch_u: int = 0
    hole: int = 0
    curve: int = 0


@dataclass(frozen=True, slots=True)
class Lattice:
    """The repeat of the tiles. Cell (row, column) lies at column * (pitch_x, column_rise) +
    row * (row_shift, pitch_y), turned by rotation, from the origin."""

    origin: Point
    tile_length_mm: float
    tile_width_mm: float
    pitch_x_mm: float
    pitch_y_mm: float
    row_shift_mm: float
    rotation_deg: float
    column_rise_mm: float = 0.0
    tiles: tuple[Ring, ...] = ()  # outlines of the tiles in one cell, from the cell's low corner [mm]


@dataclass(frozen=True, slots=True)
class CutPiece:
    """One laid piece that is not a whole tile, with its outline in room coordinates [mm]."""

    id: str
    row: int
    column: int
    outline: Ring
    holes: tuple[Ring, ...]
    cuts: Cuts
    tile: int = 0  # which of the cell's tiles it is cut from


@dataclass(frozen=True, slots=True)
class RowRun:
    """Whole tiles lying side by side: row, first and last column."""

    row: int
    first: int
    last: int
    tile: int = 0  # which of the cell's tiles


@dataclass(frozen=True, slots=True)
class Plan:
    """Everything needed to draw the floor again: lattice, runs of whole tiles, cut pieces."""

    lattice: Lattice
    field: tuple[tuple[Ring, ...], ...]  # polygons, each an outer ring and then its holes [mm]
    whole: tuple[RowRun, ...]
    cut: tuple[CutPiece, ...]


@dataclass(frozen=True, slots=True)
class OriginChoice:
    """What a start gives, in the order in which starts are judged.

    `narrowest_share` is the smaller side of the narrowest piece as a share of its tile's, 0 where a strip
    is left open that the joint cannot take up; `imbalance` by how much of a tile the pieces at opposite
    edges differ, along both axes together.
    """

    origin: Point
    rotation_deg: float
    narrowest_share: float
    tiles_needed: int
    cuts: int
    imbalance: float
    whole_at_entrance: bool | None = None  # None where no entrance is known
    cut_on_sight_line: int | None = None  # pieces that are not whole along it


@dataclass(frozen=True, slots=True)
class OriginSearch:
    """The start chosen, the plain corner to compare it with, and the two next best of other value."""

    chosen: OriginChoice
    corner: OriginChoice
    runners_up: tuple[OriginChoice, ...]
    tried: int
    complete: bool = False  # all starts that can count otherwise were counted; else a sample of them


@dataclass(frozen=True, slots=True)
class TileCut:
    """A tile that is cut, and the ids of the plan's pieces that come from it."""

    number: int
    length_mm: float
    width_mm: float
    pieces: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Layout:
    """The counted floor; `plan` is None where only an area was given."""

    origin: Point | None
    pieces: int
    whole_tiles: int
    cut_tiles: int
    cuts: Cuts
    cut_length_m: float
    narrowest_piece_mm: float | None
    tiles_needed: int
    tiles_lower_bound: int
    wastage_percent: float
    tiled_area_m2: float
    joint_length_m: float
    laid_out: bool = True
    unlaid_slivers: int = 0
    tiles_by_size: tuple[tuple[float, float, int], ...] = ()  # longer side, shorter side [mm], tiles needed
    unlaid_area_m2: float = 0.0  # taken up by joint or profile
    plan: Plan | None = None
    search: OriginSearch | None = None  # where the best origin was asked for
    tiles_cut: tuple[TileCut, ...] = ()  # every tile that is no plain whole one

    @property
    def tiles_gap(self) -> int:
        """Tiles by which the count may lie over the fewest possible; 0 where it is proven."""
        return self.tiles_needed - self.tiles_lower_bound

    def bedded_area_m2(self, joint_mm: float) -> float:
        """Tile and the joints between [m2]: what is combed with mortar, laid and cleaned."""
        return self.tiled_area_m2 + self.joint_length_m * joint_mm / 1000.0
