"""What lies on the floor already: taking it out, getting rid of it, or building on it; and asbestos."""

from __future__ import annotations

from dataclasses import replace

from service.sentence import Sentence, listed, say
from service.takeoff.answer import Finding, Layout, Step, Work
from service.takeoff.cautions import MAY_HOLD_ASBESTOS
from service.takeoff.geometry import FloorShape
from service.takeoff.parts import material
from service.takeoff.room import OLD_FLOORS, Covering, Room, SubstrateKind
from service.trade.values import TradeValues

KEPT_GROUNDS: dict[Covering, SubstrateKind] = {"tile": "existing_tile", "resilient": "existing_resilient"}
"""What kept coverings are as a ground."""


def on_kept(room: Room) -> Room:
    """The room with the covering that it keeps as its ground, on what was said to be the ground.

    Primer, mortar and what is asked of the ground then answer for the face that is built on.
    """
    ground, kept = room.substrate, covering_of(room)
    if _removed(room) or kept not in KEPT_GROUNDS or ground.kind in OLD_FLOORS:
        return room
    beneath = None if ground.kind == "unknown" else ground.kind
    return replace(room, substrate=replace(ground, kind=KEPT_GROUNDS[kept], beneath=beneath))


def take(room: Room, shape: FloorShape, layout: Layout, values: TradeValues) -> Step:
    """Removal [m2], disposal [m2] and findings on the covering of one room."""
    area, covering = shape.measures.floor_area_m2, covering_of(room)
    suspicion = asbestos(room, area, values)
    if covering == "none":
        return Step(findings=suspicion)
    if not _removed(room):
        return Step(findings=(_kept(room, covering, values), *suspicion))
    part = (f"{covering} taken out", area)
    return Step(
        materials=material("disposal", "m2", [part], ("loss", 0.0), room=room.name),
        work=(Work(f"remove_{covering}", "area", area, "m2"),),
        findings=(*suspicion, _taken_out(covering, values)),
    )


def covering_of(room: Room) -> Covering:
    return room.existing.covering if room.existing else "none"


def asbestos(room: Room, area_m2: float, values: TradeValues) -> tuple[Finding, ...]:
    """A covering that may hold asbestos is suspect up to the country's year, and in an unknown year."""
    covering, kept_below = covering_of(room), room.substrate.kind == "existing_resilient"
    if covering not in MAY_HOLD_ASBESTOS and not kept_below:
        return ()
    key, year = "caution.asbestos_to_year", room.built_year
    source = values.citation("caution.asbestos")
    if year is not None and year > values.number(key):
        said = f"Built in {year}: asbestos in the covering is not suspected."
        return (Finding("asbestos", "pass", said, values.citation(key)),)
    said = say(
        "{built}. {caution} {first}",
        built=say("The building year is not known")
        if year is None
        else say("Built in {year}", year=str(year)),
        caution=say(values.word("caution.asbestos")),
        first=_before_removal(area_m2, values)
        if _removed(room)
        else say("The covering stays whole under the floor."),
    )
    return (Finding("asbestos", "condition", said, source, "asbestos"),)


def _before_removal(area_m2: float, values: TradeValues) -> Sentence:
    said = say("Removal is priced as free of asbestos and begins only when a survey says so.")
    notice = "existing.notice_area"
    if notice not in values.by_key or area_m2 < values.number(notice):
        return said
    told = say("Over {area:.1f m2} the authority is told beforehand.", area=values.number(notice))
    return listed((said, told), " ")


def _removed(room: Room) -> bool:
    return room.existing is not None and room.existing.covering != "none" and room.existing.remove


def _taken_out(covering: Covering, values: TradeValues) -> Finding:
    said = say(
        "The old {covering:covering} covering comes out first, with its adhesive and fixings, and what is "
        "then seen of the ground may change the rest; taking out and disposal are in the price.",
        covering=covering,
    )
    return Finding("existing_covering", "condition", said, values.citation("existing.kept"))


def _kept(room: Room, covering: Covering, values: TradeValues) -> Finding:
    """A sheathing over boards is nobody's price; whether tile or sheet goods hold is asked of the ground."""
    row = next(row for row in values.table("existing.kept") if row["covering"] == covering)
    asks = "sheathing" if covering == "wood" else "" if room.substrate.bonded is not None else "bonded"
    return Finding(
        "existing_covering",
        row["verdict"],
        say(row["says"]),
        values.citation("existing.kept"),
        asks if row["verdict"] == "condition" else "",
        accept=covering == "wood",
    )
