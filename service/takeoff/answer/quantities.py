"""What a job takes, as plain data: materials with their reasons, work, hours, waits, visits."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from service.cutting.runs import CutLengths
from service.takeoff.factors import Factor, LabourPart, product_of

Driver = Literal["area", "cuts", "profile_metres", "waterproofing_corners", "metres", "count", "day", "fixed"]
Unit = Literal["piece", "m2", "m", "kg", "l", "ml", "day"]


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
