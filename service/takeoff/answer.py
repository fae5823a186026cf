"""What a take-off answers, as plain data. Field names are those of the HTTP contract, units in the names."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from service.cutting.runs import CutLengths
from service.sentence import Sentence
from service.takeoff.factors import Factor, LabourPart, product_of
from service.takeoff.room import Job, Point, Ring

Verdict = Literal["pass", "condition", "refuse"]
Driver = Literal["area", "cuts", "profile_metres", "waterproofing_corners", "metres", "count", "day", "fixed"]
CutKind = Literal["straight", "diagonal", "notch_l", "notch_u", "hole", "curve"]
Unit = Literal["piece", "m2", "m", "kg", "l", "ml", "day"]


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


@dataclass(frozen=True, slots=True)
class Finding:
    """A decision with its reason in a tiler's words and where the limit comes from.

    What a customer's document tells, conditions and refusals, is a sentence with its figures (`say`).
    """

    rule: str
    verdict: Verdict
    message: Sentence | str
    source: str
    asks: str = ""  # the fact that is missing, where one is; what is taken for it is an assumption
    accept: bool = False  # must be accepted before a quote is issued


@dataclass(frozen=True, slots=True)
class Reason:
    """One part of a quantity, in words."""

    text: str
    quantity: float


@dataclass(frozen=True, slots=True)
class RoomShare:
    """What of a material goes into one room; "" for what is bought for the whole job."""

    room: str
    quantity: float


@dataclass(frozen=True, slots=True)
class Fitness:
    """What a product must state to serve: one of some words, or a number within limits.

    `if_stated`: a product that does not state it serves as well.
    """

    attribute: str
    one_of: tuple[str, ...] = ()
    at_least: float | None = None
    at_most: float | None = None
    if_stated: bool = False


@dataclass(frozen=True, slots=True)
class Sticks:
    """The fewest of the usual stick found for all runs, for orientation: pricing buys what is on sale.

    Of several rooms each room's are added up, cut by itself.
    """

    length_mm: float
    count: int
    bound: int  # no way to cut the runs takes fewer
    method: str  # the last step of the search for them

    @property
    def gap(self) -> int:
        """Sticks by which the count may lie over the fewest possible; 0 where it is proven."""
        return self.count - self.bound


@dataclass(frozen=True, slots=True)
class Material:
    """A quantity to buy, before packs: `required` is net, `with_allowance` has laps, losses, spares in it."""

    role: str
    unit: Unit
    required: float
    with_allowance: float
    reasons: tuple[Reason, ...]
    fitness: tuple[Fitness, ...] = ()
    product: str | None = None
    one_system: bool = False  # membrane, band, corners, seals and their mortar of a wet room
    rooms: tuple[str, ...] = ()
    piece_m2: float | None = None  # the face of one tile, for tile sold or allowed for by area
    lengths: CutLengths | None = None  # of what is cut from sticks or rolls
    sticks: Sticks | None = None  # of a profile, in the usual length
    never_above: bool = False  # never cut: what is bought goes into each room without exceeding it
    by_room: tuple[RoomShare, ...] = ()  # parts of `with_allowance`, which is their sum

    @property
    def shares(self) -> tuple[RoomShare, ...]:
        """`by_room`, or all of it for its one room or for the job where nothing was added up yet."""
        room = self.rooms[0] if len(self.rooms) == 1 else ""
        return self.by_room or (RoomShare(room, self.with_allowance),)


@dataclass(frozen=True, slots=True)
class Work:
    """A quantity of work before it meets a rate; `reason` says why it is there where that is not plain."""

    activity: str
    driver: Driver
    quantity: float
    unit: str
    factors: tuple[Factor, ...] = ()
    reason: str = ""

    @property
    def factor(self) -> float:
        """How much longer a unit takes than usual."""
        return product_of(self.factors)


@dataclass(frozen=True, slots=True)
class LabourLine:
    activity: str
    driver: Driver
    quantity: float
    unit: str
    rate: float  # hours per unit, with the factors
    hours: float
    base_hours: float = 0.0  # without them
    parts: tuple[LabourPart, ...] = ()
    reasons: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class LabourHours:
    total: float
    by_driver: tuple[tuple[Driver, float], ...]


@dataclass(frozen=True, slots=True)
class Wait:
    """Time that must pass, with nobody on site."""

    after: str
    hours: float
    source: str


@dataclass(frozen=True, slots=True)
class Schedule:
    visits: int
    working_days: int
    crew: int
    waits: tuple[Wait, ...]
    days_alone: int = 0  # working days on which one person comes for a few hours


@dataclass(frozen=True, slots=True)
class RoomTakeoff:
    name: str
    measures: Measures
    layout: Layout
    membrane: MembraneLayout | None
    waterproofing: Waterproofing | None
    movement_joints: MovementJoints
    profiles: tuple[ProfileRun, ...]
    findings: tuple[Finding, ...]
    folds: tuple[tuple[Point, Point], ...] = ()  # where planes of a floor laid to falls meet [mm in the room]


@dataclass(frozen=True, slots=True)
class Instruction:
    """One thing that the crew does, at its stage of building, in these rooms."""

    step: str
    text: Sentence | str
    source: str
    rooms: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Takeoff:
    job: Job
    rooms: tuple[RoomTakeoff, ...]
    materials: tuple[Material, ...]
    labour: tuple[LabourLine, ...]
    labour_hours: LabourHours
    schedule: Schedule
    cautions: tuple[str, ...]
    trade_edition: str
    labour_table: str
    assumptions: tuple[str, ...] = ()  # what is taken for facts that nobody gave
    exclusions: tuple[str, ...] = ()  # what the price does not hold because of them
    instructions: tuple[Instruction, ...] = ()  # in the order of building
    tools: tuple[Sentence | str, ...] = ()

    @property
    def refused(self) -> bool:
        """Whether any finding says that this floor must not be built so."""
        return any(f.verdict == "refuse" for room in self.rooms for f in room.findings)

    @property
    def to_accept(self) -> tuple[str, ...]:
        """What must be accepted before a quote is issued, each with its room."""
        return tuple(f"{room.name}: {f.message}" for room in self.rooms for f in room.findings if f.accept)


@dataclass(frozen=True, slots=True)
class Step:
    """What one trade step adds for one room."""

    materials: tuple[Material, ...] = ()
    work: tuple[Work, ...] = ()
    findings: tuple[Finding, ...] = ()
    waits: tuple[Wait, ...] = ()
    cautions: tuple[str, ...] = field(default=())
