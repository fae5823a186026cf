"""Is the joint wide enough for the tile, and the offset of a running bond small enough?"""

from __future__ import annotations

from fractions import Fraction

from service.sentence import say
from service.takeoff.answer import Finding
from service.takeoff.room import Room
from service.trade.values import TradeValues


def findings(room: Room, values: TradeValues) -> tuple[Finding, ...]:
    """Joint width, and where a bond is run its offset and joint."""
    found = (joint(room, values), offset(room, values), bond_joint(room, values))
    return tuple(finding for finding in found if finding)


def joint(room: Room, values: TradeValues) -> Finding:
    """The joint against the least of the country's rule, and the scatter of size that it takes up."""
    least, source = least_joint_mm(_longest(room), values), values.citation("checks.joint_least")
    if room.joint < least:
        said = say(
            "Joint {joint:g mm}, at least {least:.3g mm} is wanted for this tile.",
            joint=room.joint,
            least=least,
        )
        return Finding("joint", "condition", said, source)
    scatter = scatter_taken_mm(room.joint, values)
    held = f"Joint {room.joint:g} mm: enough for tile that differs by up to {scatter:.2f} mm in size."
    return Finding("joint", "pass", held, source)


def least_joint_mm(longest_edge_mm: float, values: TradeValues) -> float:
    """The least joint [mm] for a tile by its longest edge [mm]."""
    rows = values.table("checks.joint_least")
    return next(float(row["joint"]) for row in rows if longest_edge_mm <= row["edge_to"])


def scatter_taken_mm(joint_mm: float, values: TradeValues) -> float:
    """Scatter of facial size [mm] that a joint takes up, a third of it: 3/16 in takes 1/16 in."""
    return joint_mm / values.number("checks.scatter_factor")


def offset(room: Room, values: TradeValues) -> Finding | None:
    """A long tile is bowed: beside the middle of its neighbour it lips. An offset of 2/3 is one of 1/3."""
    if room.pattern.kind != "running_bond":
        return None
    shift, most = effective_offset(room.pattern.offset), values.number("checks.bond_offset")
    source = values.citation("checks.bond_offset")
    if _longest(room) <= values.number("checks.bond_edge") or round(float(shift), 2) <= most:
        return Finding("offset", "pass", f"Offset of {float(shift):.0%} suits this tile.", source)
    said = say(
        "Offset of {shift:.0%} of a {edge:g mm} tile, {most:.0%} is the most: shift by {length:.0f mm} or "
        "less, or have the tile's maker agree and a mock-up approved.",
        shift=shift,
        edge=_longest(room),
        most=most,
        length=_longest(room) * most,
    )
    return Finding("offset", "condition", said, source)


def effective_offset(shift: Fraction) -> Fraction:
    """The offset as the smaller of the two laps that a tile makes with its neighbours."""
    part = shift % 1
    return min(part, 1 - part)


def bond_joint(room: Room, values: TradeValues) -> Finding | None:
    """Wider joints for a running bond of long tile, where the country's rule has them."""
    key = "checks.bond_joint_rectified"
    if room.pattern.kind != "running_bond" or key not in values.by_key:
        return None
    if _longest(room) <= values.number("checks.bond_edge"):
        return None
    rectified, calibrated = values.number(key), values.number("checks.bond_joint_calibrated")
    if room.joint >= calibrated:
        said = f"Joint {room.joint:g} mm suits a running bond of long tile."
        return Finding("bond_joint", "pass", said, values.citation("checks.bond_joint_calibrated"))
    said = say(
        "Joint {joint:g mm} in a running bond of long tile: at least {rectified:.1f mm} for rectified and "
        "{calibrated:.1f mm} for other tile, and the warpage of its edge; ask for the tile's data.",
        joint=room.joint,
        rectified=rectified,
        calibrated=calibrated,
    )
    return Finding("bond_joint", "condition", said, values.citation(key))


def _longest(room: Room) -> float:
    return max(tile.longest_edge for tile in room.tiles)
