"""Is the floor stiff and strong enough? Deflection, joists and deck."""

from __future__ import annotations

from service.sentence import Sentence, say
from service.takeoff.answer import Finding, Verdict
from service.takeoff.moisture import SPANNING, WOODEN
from service.takeoff.room import OLD_FLOORS, SCREEDS, SLABS, Room
from service.trade.values import TradeValues


def findings(room: Room, values: TradeValues) -> tuple[Finding, ...]:
    """What is to be said of a floor that spans, or may; nothing of one that lies on the ground."""
    carries, known = room.substrate.structure, room.substrate.deflection is not None
    if carries == "unknown":
        asked = () if room.substrate.kind == "unknown" else (_below(room, values),)
        return (deflection(room, values),) if known else asked
    if carries not in SPANNING:
        return ()
    if carries not in WOODEN:
        return (deflection(room, values),)
    deck = deck_thickness(room, values)
    return (deflection(room, values), joist_spacing(room, values), *((deck,) if deck else ()))


def _below(room: Room, values: TradeValues) -> Finding:
    key = "substrate.deflection.tile"
    covering, screed, slab = say("old covering"), say("screed"), say("slab")
    kind = room.substrate.kind
    said = say(
        "What carries the {layer} is not known: say its deflection under live load where it spans, "
        "L/{tile:g} or stiffer is wanted for tile, L/{stone:g} for stone.",
        layer=covering if kind in OLD_FLOORS else slab if kind in SLABS else screed,
        tile=values.number(key),
        stone=values.number("substrate.deflection.stone"),
    )
    return Finding("deflection", "condition", said, values.citation(key), "deflection")


def deflection(room: Room, values: TradeValues) -> Finding:
    """The n of span/n under live load against that wanted for tile or stone."""
    stone = any(tile.material == "stone" for tile in room.tiles)
    key = "substrate.deflection.stone" if stone else "substrate.deflection.tile"
    wanted, n, source = values.number(key), room.substrate.deflection, values.citation(key)
    most = _bend(wanted, room.substrate.span)
    limit = say("{most} for stone", most=most) if stone else say("{most} for tile", most=most)
    if n is None:
        said = say(
            "The deflection under live load is not known: it must not be more than {limit}.", limit=limit
        )
        return Finding("deflection", "condition", said, source, "deflection")
    if n < wanted:
        said = say("The floor bends too much: L/{n:g}, not more than {limit} is allowed.", n=n, limit=limit)
        return Finding("deflection", "refuse", said, source)
    return Finding("deflection", "pass", f"Stiff enough: L/{n:g}, at most {limit}.", source)


def _bend(n: float, span_mm: float | None) -> Sentence:
    if not span_mm:
        return say("L/{n:g}", n=n)
    bend = allowed_bend_mm(span_mm, n)
    return say("L/{n:g} ({bend:.1f mm} over {span:g mm})", n=n, bend=bend, span=span_mm)


def allowed_bend_mm(span_mm: float, n: float) -> float:
    """Deflection [mm] that span/n allows: 12 ft at L/360 is 0.400 in."""
    return span_mm / n


def joist_spacing(room: Room, values: TradeValues) -> Finding:
    """Joists as far apart as usual, farther where the deck is thicker, never beyond."""
    usual, most = values.number("substrate.joist_spacing"), values.number("substrate.joist_spacing_most")
    spacing, source = room.substrate.joist_spacing, values.citation("substrate.joist_spacing")
    if spacing is None:
        said = say("The spacing of the joists is not known: up to {usual:g mm} is usual.", usual=usual)
        return Finding("joist_spacing", "condition", said, source, "joist_spacing")
    held = f"Joists {spacing:g} mm apart, up to {usual:g} mm is usual"
    if spacing <= usual:
        return Finding("joist_spacing", "pass", f"{held}.", source)
    if spacing <= most:
        least = least_deck_mm(room, values)
        return Finding(
            "joist_spacing", "pass", f"{held}: over these a deck of {least:g} mm is wanted.", source
        )
    refused = say(
        "Joists {spacing:g mm} apart, up to {usual:g mm} is usual, and over {most:g mm} no deck carries "
        "tile.",
        spacing=spacing,
        usual=usual,
        most=most,
    )
    source = values.citation("substrate.joist_spacing_most")
    return Finding("joist_spacing", "refuse", refused, source)


def deck_thickness(room: Room, values: TradeValues) -> Finding | None:
    """Thickness of the deck against the least for its kind and joists; that under a screed is its designer's.

    What was said of a screed is the screed's own thickness.
    """
    if room.substrate.kind in SCREEDS:
        return None
    least, thickness, source = least_deck_mm(room, values), room.substrate.thickness, _deck_key(room, values)
    if thickness is None:
        said = say("The thickness of the deck is not known: at least {least:g mm} is wanted.", least=least)
        return Finding("deck", "condition", said, values.citation(source), "thickness")
    verdict: Verdict = "pass" if thickness >= least else "refuse"
    said = say("Deck {thickness:g mm}, at least {least:g mm} wanted.", thickness=thickness, least=least)
    return Finding("deck", verdict, said, values.citation(source))


def least_deck_mm(room: Room, values: TradeValues) -> float:
    """The least deck [mm] for its kind, thicker over joists further apart than usual."""
    return values.number(_deck_key(room, values))


def _deck_key(room: Room, values: TradeValues) -> str:
    spacing = room.substrate.joist_spacing
    if spacing is not None and spacing > values.number("substrate.joist_spacing"):
        return "substrate.deck.wide_joists"
    return f"substrate.deck.{room.substrate.structure}"
