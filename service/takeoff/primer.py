"""Primer: which kind, how many coats, and the work."""

from __future__ import annotations

from typing import Any

from service.sentence import Sentence, say
from service.takeoff.answer import Finding, Fitness, Step, Wait, Work
from service.takeoff.geometry import FloorShape
from service.takeoff.levelling import poured
from service.takeoff.parts import material
from service.takeoff.room import Room
from service.trade.values import TradeValues


def primed(room: Room, shape: FloorShape, values: TradeValues) -> Step:
    """Primer [l], priming [m2 and coat] and its wait; nothing where the ground wants none."""
    coats, area = coats_of(room, values), shape.measures.floor_area_m2
    if not coats:
        return Step(findings=(finding(room, values),))
    part = (_times(coats), area * coats * values.number("primer.rate"))
    return Step(
        materials=material(
            "primer",
            "l",
            [part],
            ("loss", values.number("primer.loss")),
            room=room.name,
            fitness=(Fitness("substrate", one_of=(str(_row(room, values)["substrate"]),)),),
        ),
        work=(Work("prime", "area", area * coats, "m2"),),
        findings=(finding(room, values),),
        waits=(Wait("prime", values.number("primer.wait"), values.citation("primer.wait")),),
    )


def coats_of(room: Room, values: TradeValues) -> int:
    """Coats wanted by the ground: as it is, or under levelling compound or fall screed."""
    covered = room.falls != "none" or poured(room, values)
    return int(_row(room, values)["under_compound" if covered else "coats"])


def finding(room: Room, values: TradeValues) -> Finding:
    """Which primer comes first, or that none is wanted; on an unknown ground the question stays open."""
    coats, source = coats_of(room, values), values.citation("primer.coats")
    if coats:
        said = say(
            "Primed first, {coats}, with a primer for {ground:ground} ground; let it dry.",
            coats=_times(coats),
            ground=str(_row(room, values)["substrate"]).replace("_", " "),
        )
        return Finding("primer", "condition", said, source)
    if room.substrate.kind == "unknown":
        said = say("No primer is priced, since nobody said what the ground is.")
        return Finding("primer", "condition", said, source, asks="substrate")
    return Finding("primer", "pass", "No primer: mortar bonds to this ground as it is, once clean.", source)


def _times(coats: int) -> Sentence:
    return say("{coats} coats", coats=coats) if coats > 1 else say("{coats} coat", coats=coats)


def _row(room: Room, values: TradeValues) -> dict[str, Any]:
    return next(row for row in values.table("primer.coats") if row["kind"] == room.substrate.kind)
