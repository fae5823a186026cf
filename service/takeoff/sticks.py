"""Runs cut from the trade's usual stick or roll, for what a take-off tells before a product is chosen."""

from __future__ import annotations

from math import ceil, fsum

from service.cutting.rolls import rip
from service.cutting.runs import CutLengths
from service.cutting.sections import length_of
from service.cutting.steps import STEPS_PER_MM
from service.cutting.stock import CuttingPlan, Demand, Stock, cut_joined


def from_sticks(lengths: CutLengths, stick: float) -> CuttingPlan:
    """The fewest sticks [mm] from which all runs can be cut, those longer than a stick joined end to end."""
    runs = [Demand(run, count) for run, count in lengths.runs]
    return cut_joined(runs, [Stock(stick)], lengths.kerf_mm, lengths.min_piece_mm)


def proof(plan: CuttingPlan) -> str:
    """Whether fewer sticks could do, in words."""
    return "proven the fewest" if plan.optimal else f"no fewer than {ceil(plan.bound)} can do"


def joints(lengths: CutLengths, plan: CuttingPlan) -> int:
    """Joints in the runs that are longer than a stick."""
    pieces = sum(len(pattern.pieces) * pattern.times for pattern in plan.patterns)
    return pieces - sum(count for _, count in lengths.runs)


def sawn(plan: CuttingPlan, kerf: float) -> float:
    """Length lost in saw cuts [mm]: one between two pieces of a stick, none at the end of one used up."""
    return kerf * sum((len(pattern.pieces) - 1) * pattern.times for pattern in plan.patterns)


def bought(plan: CuttingPlan, kerf: float) -> float:
    """Length [mm] that must be bought: every stick whole but the emptiest, of which only what is cut."""
    used = [fsum(pattern.pieces) + kerf * (len(pattern.pieces) - 1) for pattern in plan.patterns]
    if not used:
        return 0.0
    return plan.patterns[0].stock.length * (plan.sticks - 1) + min(used)


def roll_area_m2(lengths: CutLengths, longest: float) -> float:
    """What is cut off the roll for all runs, narrow ones ripped side by side; sections no longer than
    `longest` [mm]."""
    width = lengths.width_mm or 0.0
    sections = rip(lengths.strips(longest), width, longest)
    return fsum(length_of(section) for section in sections) / STEPS_PER_MM * width / 1e6
