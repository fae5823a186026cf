"""Small take-offs with invented figures, for what is drawn and printed."""

from __future__ import annotations

from dataclasses import replace

from service.takeoff.answer import (
    CutPiece,
    Cuts,
    Finding,
    LabourHours,
    Lattice,
    Layout,
    Measures,
    MembraneLayout,
    MovementJoints,
    Plan,
    RoomTakeoff,
    RowRun,
    Schedule,
    Takeoff,
    Wait,
)
from service.takeoff.room import BareArea, Doorway, Job, Obstruction, Outline, Room, Tile

STRAIGHT, NOTCH = Cuts(straight=1), Cuts(notch_l=1)


def rectangle(x: float, y: float, length: float, width: float) -> tuple[tuple[float, float], ...]:
    return ((x, y), (x + length, y), (x + length, y + width), (x, y + width))


def small_room(name: str = "Utility") -> Room:
    """1000 x 700, an open edge on the right, a doorway below and a column in the upper left corner."""
    return Room(
        name,
        Outline(rectangle(0, 0, 1000, 700), walls=(0, 2, 3)),
        Tile(300, 300),
        doorways=(Doorway(0, 400, 500, "carpet"),),
        obstructions=(
            Obstruction("column", rectangle(0, 600, 100, 100)),
            Obstruction("drain", None, (760.0, 330.0), 110.0),
        ),
        perimeter_joint=6,
    )


def small_floor(name: str = "Utility") -> RoomTakeoff:
    """Tile 300, joint 3, from the lower left corner: four whole, the rest cut."""
    field = (((6.0, 0.0), (1000.0, 0.0), (1000.0, 694.0), (106.0, 694.0), (106.0, 594.0), (6.0, 594.0)),)
    cut = (
        _piece("A4", 0, 3, rectangle(915, 6, 85, 300), STRAIGHT),
        _piece("B1", 1, 0, ((6, 309), (306, 309), (306, 609), (106, 609), (106, 594), (6, 594)), NOTCH),
        _piece("B4", 1, 3, rectangle(915, 309, 85, 300), STRAIGHT),
        _piece("C2", 2, 1, rectangle(309, 612, 300, 82), STRAIGHT),
        _piece("C3", 2, 2, rectangle(612, 612, 300, 82), STRAIGHT),
        _piece("C4", 2, 3, rectangle(915, 612, 85, 82), Cuts(straight=2)),
        _piece("D3", 1, 2, rectangle(612, 309, 300, 300), Cuts(hole=1), (rectangle(700, 270, 120, 120),)),
        _piece("C1", 2, 0, rectangle(106, 612, 200, 82), STRAIGHT),
    )
    plan = Plan(
        Lattice((6.0, 6.0), 300.0, 300.0, 303.0, 303.0, 0.0, 0.0),
        (field,),
        (RowRun(0, 0, 2), RowRun(1, 1, 1)),
        cut,
    )
    layout = Layout(
        (6.0, 6.0),
        12,
        4,
        8,
        Cuts(straight=7, notch_l=1, hole=1),
        3.2,
        82.0,
        11,
        9,
        20.5,
        0.68,
        5.1,
        plan=plan,
    )
    return RoomTakeoff(
        name,
        Measures(0.69, 3.4, 2.1, 5, 1),
        layout,
        MembraneLayout((), 1.0, 1, 0.7, seams=(((0.0, 350.0), (1000.0, 350.0)),)),
        None,
        MovementJoints(2.1, 0.7, 0.5, 6.0, 8.0, lines=(((610.5, 0.0), (610.5, 694.0)),)),
        (),
        (
            Finding("flatness", "pass", "Flat enough.", "from memory"),
            Finding("joint_width", "condition", "The joint must be 3 mm at least.", "common practice"),
            Finding("moisture", "refuse", "Too damp.", "from memory"),
        ),
    )


def _piece(id_: str, row: int, column: int, outline: object, cuts: Cuts, holes: object = ()) -> CutPiece:
    return CutPiece(id_, row, column, outline, holes, cuts)  # type: ignore[arg-type]


def bare_room() -> Room:
    return Room("Hall", BareArea(12.5, 15000.0), Tile(300, 300))


def bare_floor() -> RoomTakeoff:
    floor = small_floor("Hall")
    layout = replace(floor.layout, plan=None, laid_out=False, origin=None, narrowest_piece_mm=None)
    return replace(floor, layout=layout)


def takeoff() -> Takeoff:
    return Takeoff(
        Job((small_room(), bare_room())),
        (small_floor(), bare_floor()),
        (),
        (),
        LabourHours(5.52, (("area", 4.35), ("cuts", 1.17))),
        Schedule(2, 3, 2, (Wait("setting", 24.0, "common practice"),)),
        ("A dry room only: no water may stand on this floor.",),
        "2026-01-01/us",
        "labour-1",
    )
