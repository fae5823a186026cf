"""What the floor is built of, from the ground up: each choice as a finding, in a tiler's words.

The choices themselves are made where the quantities are (mortar, notch, primer); here they are said.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from service.sentence import Sentence, say
from service.takeoff.answer import Finding, Wait
from service.takeoff.lattice import work_size
from service.takeoff.mortar import MortarChoice, back_buttered, membrane_mortar, tile_mortar
from service.takeoff.notch import Notch, mean_film_mm, membrane_notch, notch_named, tile_notch
from service.takeoff.room import Room
from service.takeoff.schedule import longest_waits
from service.trade.values import TradeValues

BEFORE_TILE = frozenset({"waterproofing", "flood_test"})
"""Stages between membrane and tile whose waits keep the tile off."""

Rule = Callable[[Room, TradeValues], Finding | None]


def findings(room: Room, waits: Iterable[Wait], values: TradeValues) -> tuple[Finding, ...]:
    """Every choice of the assembly, in the order of building, and the waits between."""
    own = (rule(room, values) for rule in RULES)
    return (*(finding for finding in own if finding), *waited(waits))


def membrane(room: Room, values: TradeValues) -> Finding | None:
    """Standard or thick; with a heating cable the finding on the cable says which."""
    if room.membrane is None:
        key = "assembly.no_membrane"
        return Finding("membrane", "condition", say(values.word(key)), values.citation(key))
    if room.heating == "electric":
        return None
    key = f"assembly.membrane.{room.membrane.thickness}"
    height = values.number(f"membrane.thickness.{room.membrane.thickness}")
    return Finding("membrane", "pass", f"{values.word(key)} It is {height:g} mm high.", values.citation(key))


def mortar_under_membrane(room: Room, values: TradeValues) -> Finding | None:
    if room.membrane is None:
        return None
    said = say("Between ground and membrane: {mortar}", mortar=_words(membrane_mortar(room, values), values))
    unknown = room.substrate.kind == "unknown"
    return Finding(
        "membrane_mortar",
        "condition" if unknown else "pass",
        said,
        values.citation("mortar.choice"),
        asks="substrate" if unknown else "",
    )


def mortar_under_tile(room: Room, values: TradeValues) -> Finding:
    place = "membrane and tile" if room.membrane else "ground and tile"
    said = f"Between {place}: {_words(tile_mortar(room, values), values)}"
    return Finding("tile_mortar", "pass", said, values.citation("mortar.choice"))


def notch_under_membrane(room: Room, values: TradeValues) -> Finding | None:
    if room.membrane is None:
        return None
    notch = membrane_notch(room.membrane.thickness, values)
    said = f"The membrane is bedded with a {notch.words}, {_film(notch, values)} over a thin key coat."
    return Finding("membrane_notch", "pass", said, values.citation("mortar.membrane_notch"))


def notch_under_band(room: Room, values: TradeValues) -> Finding | None:
    if not room.waterproof:
        return None
    notch = notch_named(values.word("mortar.band_notch"), values)
    said = f"Bands are bedded with a {notch.words}, {_film(notch, values)}."
    return Finding("band_notch", "pass", said, values.citation("mortar.band_notch"))


def notch_under_tile(room: Room, values: TradeValues) -> Finding:
    longest = max(tile.longest_edge for tile in room.tiles)
    notch = tile_notch(longest, values)
    over = "the membrane's filled cavities" if room.membrane else "a thin key coat"
    said = f"Tile of {longest:g} mm is combed with a {notch.words}, {_film(notch, values)} over {over}."
    return Finding("tile_notch", "pass", said, values.citation("mortar.tile_notch"))


def back_buttering(room: Room, values: TradeValues) -> Finding:
    edge = values.number("mortar.back_butter_edge")
    said = f"Edges under {edge:g} mm in a dry room: only backs with a deep profile are buttered."
    if back_buttered(room, values):
        said = f"Every back is buttered: large tile (from {edge:g} mm), wet or outdoors; it is in the mortar."
    return Finding("back_buttering", "pass", said, values.citation("mortar.back_butter_edge"))


def nominal_size(room: Room, values: TradeValues) -> Finding | None:
    """Nominal sizes have the joint in them; what is laid and counted is the work size."""
    named = [tile for tile in room.tiles if tile.size_is == "nominal"]
    if not named:
        return None
    sizes = (
        f"{tile.length:g} x {tile.width:g} is {made[0]:g} x {made[1]:g} mm"
        for tile, made in ((tile, work_size(tile, room.joint)) for tile in named)
    )
    said = f"Nominal sizes hold a joint of {room.joint:g} mm, so the tile itself: {'; '.join(sizes)}."
    return Finding("work_size", "pass", said, values.citation("assembly.nominal_size"))


def unsealed(room: Room, values: TradeValues) -> Finding | None:
    if room.waterproof or room.hardest_exposure != "dry":
        return None
    said = "Dry room: nothing is sealed, and membrane seams stay without band."
    return Finding("waterproofing", "pass", said, values.citation("waterproofing.class.dry"))


def waited(waits: Iterable[Wait]) -> tuple[Finding, ...]:
    """The longest wait after each stage; from membrane to tile there is none but for a flood test."""
    longest = longest_waits(waits)
    if not longest:
        return ()
    said = ", ".join(f"{wait.hours:g} h after {wait.after.replace('_', ' ')}" for wait in longest)
    sources = "; ".join(dict.fromkeys(wait.source for wait in longest))
    straight = not any(wait.after in BEFORE_TILE for wait in longest)
    at_once = " Tile follows the membrane at once." if straight else ""
    return (Finding("waits", "pass", f"Waits: {said}.{at_once}", sources),)


RULES: tuple[Rule, ...] = (
    membrane,
    mortar_under_membrane,
    notch_under_membrane,
    unsealed,
    notch_under_band,
    nominal_size,
    mortar_under_tile,
    notch_under_tile,
    back_buttering,
)


def _words(choice: MortarChoice, values: TradeValues) -> Sentence:
    """Both classes, that of the country's standards first."""
    classes = [f"ANSI {choice.ansi}", f"EN 12004 {choice.en}"]
    first, second = classes if values.standards == "us" else reversed(classes)
    mortar = say("{first} or {second} mortar", first=first, second=second)
    if choice.large_format:
        mortar = say("{mortar}, made for large and heavy tile", mortar=mortar)
    if choice.others:
        mortar = say("{mortar}; {others} also serve", mortar=mortar, others=", ".join(choice.others))
    return say("{mortar}. {why}", mortar=mortar, why=say(choice.why))


def _film(notch: Notch, values: TradeValues) -> str:
    film = mean_film_mm(notch, values.number("mortar.trowel_angle"))
    return f"which leaves {film:.1f} mm"
