"""What a take-off answers, as plain data; fields are named as in the published answer, with their units."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from service.sentence import Sentence
from service.takeoff.answer.coverings import (
    MembraneLayout,
    MembraneStrip,
    MovementJoints,
    ProfileRun,
    Waterproofing,
)
from service.takeoff.answer.layout import (
    CutKind,
    CutPiece,
    Cuts,
    Lattice,
    Layout,
    Measures,
    OriginChoice,
    OriginSearch,
    Plan,
    RowRun,
    TileCut,
)
from service.takeoff.answer.quantities import (
    Driver,
    Fitness,
    LabourHours,
    LabourLine,
    Material,
    Reason,
    RoomShare,
    Schedule,
    Sticks,
    Unit,
    Wait,
    Work,
)
from service.takeoff.room import Job, Point

__all__ = [
    "CutKind",
    "CutPiece",
    "Cuts",
    "Driver",
    "Finding",
    "Fitness",
    "Instruction",
    "LabourHours",
    "LabourLine",
    "Lattice",
    "Layout",
    "Material",
    "Measures",
    "MembraneLayout",
    "MembraneStrip",
    "MovementJoints",
    "OriginChoice",
    "OriginSearch",
    "Plan",
    "ProfileRun",
    "Reason",
    "RoomShare",
    "RoomTakeoff",
    "RowRun",
    "Schedule",
    "Step",
    "Sticks",
    "Takeoff",
    "TileCut",
    "Unit",
    "Verdict",
    "Wait",
    "Waterproofing",
    "Work",
]

Verdict = Literal["pass", "condition", "refuse"]


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
