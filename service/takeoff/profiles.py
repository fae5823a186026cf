"""Profiles at open edges and doorways, their fittings, and the door jambs cut for the new floor.

The leg of a profile lies on the membrane, so its height is that of tile and mortar film.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil, fsum

from service.cutting.runs import CutLengths, runs_of
from service.takeoff.answer import Fitness, Layout, Material, ProfileRun, Reason, Step, Sticks, Work
from service.takeoff.build_up import profile_fitness, tile_height_mm
from service.takeoff.doorways import UNPROFILED, Meeting, doorway_findings, leaf_cut, meeting, step_mm
from service.takeoff.exposed_edges import Exposed, exposed
from service.takeoff.geometry import FloorShape
from service.takeoff.levels import ground_mm
from service.takeoff.room import Room
from service.takeoff.shared_doorways import own
from service.takeoff.sticks import bought, from_sticks, joints, proof, sawn
from service.trade.values import TradeValues

Cut = tuple[ProfileRun, int]
"""A run of profile and how many of its ends are mitred."""

MM_PER_M = 1000.0
NOISE_M = 1e-9
CORNERS = "corner pieces where edge profiles meet"
CAPS = "end caps at free ends"
CONNECTORS = "connectors where a run is longer than a stick"


@dataclass(frozen=True, slots=True)
class ProfilesTake:
    answer: tuple[ProfileRun, ...]
    step: Step


def take(room: Room, shape: FloorShape, layout: Layout, values: TradeValues) -> ProfilesTake:
    """Edge and transition profiles [m], fittings [piece], profile work [m], jambs and door leaves [piece]."""
    bare = exposed(shape)
    edges = _edge_cuts(room, bare, values)
    transitions = _transition_cuts(room, shape, values)
    runs = tuple(run for run, _ in (*edges, *(cut for at in transitions.values() for _, cut in at)))
    materials = (
        *stock("edge_profile", edges, room, values),
        *(m for (drop, _), at in transitions.items() for m in _transitions(drop, at, room, values)),
        *fittings(room, {CORNERS: bare.corners, CAPS: bare.caps}),
    )
    work = (
        profile_work(runs),
        Work("undercut_jamb", "count", _jambs(room, values), "piece"),
        Work("trim_leaf", "count", _leaves(room, shape, values), "piece"),
    )
    step = Step(
        materials=materials,
        work=tuple(part for part in work if part.quantity),
        findings=doorway_findings(room, shape, values),
    )
    return ProfilesTake(runs, step)


def stock(
    role: str, cuts: Sequence[Cut], room: Room, values: TradeValues, also: tuple[Fitness, ...] = ()
) -> tuple[Material, ...]:
    """Profile of one role and height [m] for some runs; none where there is no run.

    A mitred end costs the profile's height, a saw cut its kerf, and what is left of a stick too short for
    another run is lost. `with_allowance` is the length that must be bought in the trade's usual sticks, of
    which the fewest are cut; `lengths` are for the sticks on sale. A run longer than a stick is joined, with
    connectors where the role takes them.
    """
    if not cuts:
        return ()
    stick, kerf = values.number("profiles.stick_length"), values.number("profiles.kerf")
    lengths = _lengths(cuts, kerf, values)
    plan = from_sticks(lengths, stick)
    net = fsum(run.length_m for run, _ in cuts)
    mitres = fsum(run.height_mm * ends for run, ends in cuts) / MM_PER_M
    lost, whole = sawn(plan, kerf) / MM_PER_M, bought(plan, kerf) / MM_PER_M
    parts = (
        Reason(
            f"runs: {len(cuts)}, cut from {plan.sticks} sticks of {stick / MM_PER_M:.2f} m, {proof(plan)}",
            net,
        ),
        Reason("mitres", mitres),
        Reason("saw cuts", lost),
        Reason("offcuts too short for another run", whole - net - mitres - lost),
    )
    profile = Material(
        role=role,
        unit="m",
        required=net,
        with_allowance=whole,
        reasons=tuple(part for part in parts if part.quantity > NOISE_M),
        fitness=(profile_fitness(cuts[0][0].height_mm, values), *also),
        rooms=(room.name,),
        lengths=lengths,
        sticks=Sticks(stick, plan.sticks, ceil(plan.bound), plan.method),
    )
    connected = any(row["role"] == role for row in values.table("profiles.connected"))
    return (profile, *fittings(room, {CONNECTORS: joints(lengths, plan) if connected else 0}))


def fittings(room: Room, counts: Mapping[str, int]) -> tuple[Material, ...]:
    """Corner pieces, end caps and connectors [piece] by why they are needed; none where all are 0."""
    count = sum(counts.values())
    reasons = tuple(Reason(why, number) for why, number in counts.items() if number)
    return (Material("profile_fitting", "piece", count, count, reasons, rooms=(room.name,)),) if count else ()


def _lengths(cuts: Sequence[Cut], kerf: float, values: TradeValues) -> CutLengths:
    runs = runs_of(run.length_m * MM_PER_M + run.height_mm * ends for run, ends in cuts)
    return CutLengths(runs, kerf, values.number("profiles.min_piece"))


def profile_work(runs: Sequence[ProfileRun]) -> Work:
    """Cutting and setting profiles [m]."""
    return Work("profile", "profile_metres", fsum(run.length_m for run in runs), "m")


def _edge_cuts(room: Room, bare: Exposed, values: TradeValues) -> list[Cut]:
    height = tile_height_mm(room, values)
    return [
        (ProfileRun("edge", edge.length / MM_PER_M, height, edge.place), edge.mitred_ends)
        for edge in bare.edges
    ]


def _transition_cuts(
    room: Room, shape: FloorShape, values: TradeValues
) -> dict[tuple[Meeting, int], list[tuple[float, Cut]]]:
    """The doorways that take a profile, each with its step [mm], by the kind of it and the range of ramps."""
    height = tile_height_mm(room, values)
    cuts: dict[tuple[Meeting, int], list[tuple[float, Cut]]] = {}
    for number, opening in own(room, shape.openings):
        ground = ground_mm(room, shape, opening, values)
        drop = meeting(room, opening.doorway, values, ground)
        if drop not in UNPROFILED:
            run = ProfileRun("transition", opening.doorway.width / MM_PER_M, height, f"doorway {number}")
            step = step_mm(room, opening.doorway, values, ground) if drop == "reducer" else 0.0
            cuts.setdefault((drop, _ramp(step, values)), []).append((step, (run, 0)))
    return cuts


def _ramp(step: float, values: TradeValues) -> int:
    """Which of the ranges that ramped profiles are made in takes this step [mm]."""
    return sum(step > float(row["to"]) for row in values.table("profiles.ramps"))


def _transitions(
    drop: str, at: list[tuple[float, Cut]], room: Room, values: TradeValues
) -> tuple[Material, ...]:
    cuts, steps = [cut for _, cut in at], [step for step, _ in at if step]
    also = (Fitness("drop", one_of=(drop,)), *(_ramped(steps) if steps else ()))
    return stock("transition_profile", cuts, room, values, also)


def _ramped(steps: Sequence[float]) -> tuple[Fitness, ...]:
    """A ramp that takes all of these steps [mm]."""
    return (Fitness("ramp_from_mm", at_most=min(steps)), Fitness("ramp_to_mm", at_least=max(steps)))


def _jambs(room: Room, values: TradeValues) -> float:
    return values.number("profiles.jambs") * (len(room.doorways) - len(room.shared_doorways))


def _leaves(room: Room, shape: FloorShape, values: TradeValues) -> int:
    """Door leaves that the levels say must be cut."""
    return sum(
        leaf_cut(room, opening.doorway, values, ground_mm(room, shape, opening, values))
        for _, opening in own(room, shape.openings)
    )
