"""What a caller says about a job, as plain data. Lengths are millimetres, angles degrees anticlockwise."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal

Point = tuple[float, float]
Ring = tuple[Point, ...]

Exposure = Literal["dry", "wet", "exterior"]
Heating = Literal["none", "water", "electric"]
Falls = Literal["none", "point", "linear"]
Standards = Literal["us", "uk", "de"]
ObstructionKind = Literal["column", "fixture", "pipe", "drain", "hatch", "stair"]
PatternKind = Literal["stack_bond", "running_bond", "herringbone", "basket_weave", "hexagon", "modular"]
SubstrateKind = Literal[
    "unknown",
    "concrete_on_ground",
    "concrete_suspended",
    "concrete_young",
    "screed_cement",
    "screed_calcium_sulfate",
    "screed_heated",
    "gypsum_underlayment",
    "plywood_on_joists",
    "osb_on_joists",
    "existing_tile",
    "existing_resilient",
    "exterior_slab",
]
TileMaterial = Literal["ceramic", "porcelain", "stone"]
TileFact = Literal["thickness", "material"]
Covering = Literal["none", "carpet", "resilient", "tile", "wood", "laminate"]
OriginKind = Literal["corner", "centre_tile", "centre_joint", "best"]
SearchKind = Literal["full", "short"]
"""How far the best origin is looked for: a short search tries fewer starts and lays out fewer."""

AREA_KINDS: frozenset[ObstructionKind] = frozenset({"column", "fixture", "stair"})
"""Obstructions that take floor away."""
OLD_FLOORS: frozenset[SubstrateKind] = frozenset({"existing_tile", "existing_resilient"})
"""Grounds that are a floor themselves, laid on another ground."""
SCREEDS: frozenset[SubstrateKind] = frozenset(
    {"screed_cement", "screed_calcium_sulfate", "screed_heated", "gypsum_underlayment"}
)
"""Layers that carry nothing by themselves: they lie on a slab or on a deck."""
SLABS: frozenset[SubstrateKind] = frozenset({"concrete_young", "exterior_slab"})
"""Slabs that may lie on the ground or span: their kind does not tell."""
RESTRAINING_KINDS: frozenset[ObstructionKind] = frozenset({"column", "fixture"})
"""Obstructions against which the tile needs a perimeter joint and, where wet, a band."""


@dataclass(frozen=True, slots=True)
class Doorway:
    """An opening in wall `wall`, `offset` along it from its start."""

    wall: int
    offset: float
    width: float
    adjoining: str | None = None
    adjoining_level: float | None = None  # finished level beyond, above this room's substrate
    leaf: bool = True  # a door hangs in it, an open passage has none


@dataclass(frozen=True, slots=True)
class Obstruction:
    """Something standing in the floor: an outline, or a centre with a diameter."""

    kind: ObstructionKind
    outline: Ring | None = None
    centre: Point | None = None
    diameter: float | None = None


@dataclass(frozen=True, slots=True)
class Zone:
    """A part of the room with an exposure of its own."""

    outline: Ring
    exposure: Exposure
    sunlit: bool = False


@dataclass(frozen=True, slots=True)
class Flatness:
    """Worst gap under a straightedge of length `under`."""

    gap: float
    under: float


Reading = tuple[float, float, float]
"""Place and height of the ground read with a level [mm]."""


@dataclass(frozen=True, slots=True)
class Moisture:
    """A reading: rh [%], cm [CM-%], mver [lb/1000 ft2/24 h] or wood [%]."""

    method: Literal["rh", "cm", "mver", "wood"]
    value: float


@dataclass(frozen=True, slots=True)
class Substrate:
    kind: SubstrateKind = "unknown"
    flatness: Flatness | None = None
    levels: tuple[Reading, ...] = ()  # three or more, not in one line; they tell the volume of compound
    moisture: Moisture | None = None
    age_days: float | None = None
    thickness: float | None = None
    joist_spacing: float | None = None
    span: float | None = None
    deflection: float | None = None  # the n of L/n under live load
    beneath: SubstrateKind | None = None  # what an old floor or a screed lies on, or how a slab is carried
    bonded: bool | None = None  # whether an old floor was found stuck down all over

    @property
    def bearing(self) -> SubstrateKind:
        """What carries the floor: the ground itself, or what an old floor lies on, unknown where not said."""
        return (self.beneath or "unknown") if self.kind in OLD_FLOORS else self.kind

    @property
    def structure(self) -> SubstrateKind:
        """What spans or lies on the ground under it all, unknown where not said."""
        layered = self.kind in OLD_FLOORS | SCREEDS | SLABS
        under = self.beneath if layered else self.kind
        return "unknown" if under is None or under in SCREEDS | SLABS else under


@dataclass(frozen=True, slots=True)
class Existing:
    covering: Covering
    remove: bool = True


@dataclass(frozen=True, slots=True)
class Tile:
    """A tile by its measures, and by product id where the office has chosen one."""

    length: float
    width: float
    thickness: float = 9.0
    material: TileMaterial = "porcelain"
    size_is: Literal["work", "nominal"] = "work"
    product: str | None = None
    directional: bool = False  # veined or printed with a direction: no offcut of it is turned
    assumed: tuple[TileFact, ...] = ()  # what nobody said of it and is taken to be as usual

    @property
    def longest_edge(self) -> float:
        return max(self.length, self.width)

    @property
    def shortest_edge(self) -> float:
        return min(self.length, self.width)


@dataclass(frozen=True, slots=True)
class Pattern:
    kind: PatternKind = "stack_bond"
    offset: Fraction = Fraction(0)
    rotation: float = 0.0
    tiles: tuple[Tile, ...] = ()
    try_rotations: tuple[float, ...] = ()  # further rotations that the search for the best origin may choose


@dataclass(frozen=True, slots=True)
class Membrane:
    thickness: Literal["standard", "thick"] = "standard"
    roll_width: float | None = None  # mm, stated by the product chosen; else the office's usual width holds


@dataclass(frozen=True, slots=True)
class Skirting:
    height: float


@dataclass(frozen=True, slots=True)
class Saw:
    kerf: float = 2.0
    sawn_edges_at_joints: bool = False


@dataclass(frozen=True, slots=True)
class Outline:
    """A simple polygon with holes, in the caller's own order.

    Edges are numbered through the outline, then through each hole in turn; `walls` lists the numbers
    of those that are walls, the others are open.
    """

    ring: Ring
    holes: tuple[Ring, ...] = ()
    walls: tuple[int, ...] = ()
    closing_error: float = 0.0  # of a walls run that did not come back to its start


@dataclass(frozen=True, slots=True)
class Focus:
    """What the eye meets first: the wall of that number, or the doorway."""

    kind: Literal["wall", "doorway"]
    number: int


@dataclass(frozen=True, slots=True)
class ContinuesFrom:
    """The room of the job, by number or name, whose floor runs on into this one, and where that room's zero
    point lies in this room's coordinates; their axes are parallel."""

    room: int | str
    at: Point


@dataclass(frozen=True, slots=True)
class BareArea:
    """Only an area and a perimeter are known: the take-off is an allowance, not a layout."""

    area_m2: float
    perimeter: float


@dataclass(frozen=True, slots=True)
class Room:
    name: str
    shape: Outline | BareArea
    tile: Tile
    doorways: tuple[Doorway, ...] = ()
    obstructions: tuple[Obstruction, ...] = ()
    exposure: Exposure = "dry"
    zones: tuple[Zone, ...] = ()
    substrate: Substrate = Substrate()
    existing: Existing | None = None
    built_year: int | None = None
    heating: Heating = "none"
    falls: Falls = "none"
    curb: bool = False  # a curb, tray or sunken floor holds water on the wet floor
    pattern: Pattern = Pattern()
    origin: OriginKind | Point = "best"
    search: SearchKind = "full"
    focus: Focus | None = None
    continues_from: ContinuesFrom | None = None  # then that room's origin and rotation hold here
    shared_doorways: tuple[int, ...] = ()  # numbers of doorways that are counted with that room
    joint: float = 3.0
    perimeter_joint: float = 6.0
    min_piece: float = 10.0
    membrane: Membrane | None = Membrane()
    waterproof: bool = False  # the edge of the service fills it in: true exactly where not dry
    band_roll: float | None = None  # m, stated by the product chosen; else the usual length holds
    sealed_zones_only: bool = False  # of a dry room only its wet zones are sealed, not the whole floor
    skirting: Skirting | None = None
    movement_joint: Literal["sealant", "profile"] = "sealant"
    floor_to_wall: Literal["sealant", "profile"] = "sealant"  # what closes the joint around the floor
    saw: Saw = Saw()
    choices: tuple[tuple[str, str], ...] = ()  # (role, product id): grout colour, visible profiles, sealant

    @property
    def tiles(self) -> tuple[Tile, ...]:
        """Every size of tile in the floor."""
        return self.pattern.tiles or (self.tile,)

    @property
    def hardest_exposure(self) -> Exposure:
        """The hardest that any part of the floor meets."""
        met = {self.exposure, *(zone.exposure for zone in self.zones)}
        return "exterior" if "exterior" in met else "wet" if "wet" in met else "dry"

    def chosen(self, role: str) -> str | None:
        """The product id that the office has chosen for this role."""
        return dict(self.choices).get(role)


@dataclass(frozen=True, slots=True)
class Site:
    floor: int = 0
    lift: bool = True
    carry: float = 0.0
    occupied: bool = False


@dataclass(frozen=True, slots=True)
class Job:
    """The rooms of one take-off and where they lie."""

    rooms: tuple[Room, ...]
    standards: Standards = "us"
    site: Site = field(default_factory=Site)
