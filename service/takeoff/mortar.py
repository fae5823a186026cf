"""Bonding mortar: one under the membrane, one under the tile, one under the bands; never one for two.

Each film is added up from what the trade does: combed ridges, a key coat, the membrane's cavities filled,
the tile's back buttered. A film of 1 mm is a litre of wet mortar on a square metre.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from service.takeoff.answer import Fitness, Layout, Material, Step, Waterproofing
from service.takeoff.geometry import FloorShape
from service.takeoff.notch import Notch, mean_film_mm, membrane_notch, notch_named, tile_notch
from service.takeoff.parts import Part, material
from service.takeoff.room import Room
from service.takeoff.waterproofing_rules import wide_band_mm
from service.trade.values import TradeValues

MM_PER_M = 1000.0
CLASS_CAUTION = (
    "The membrane's written instructions decide the class of mortar under and over it; a modified mortar "
    "between two dense layers takes longer to dry."
)


@dataclass(frozen=True, slots=True)
class MortarChoice:
    """The class to take by ANSI A118 and by EN 12004, why, and what else serves."""

    ansi: str
    en: str
    why: str
    others: tuple[str, ...]
    large_format: bool = False


def take(
    room: Room, shape: FloorShape, layout: Layout, waterproofing: Waterproofing | None, values: TradeValues
) -> Step:
    """Membrane, tile and band mortar [kg of dry powder] of one room."""
    materials = (
        *_membrane_mortar(room, shape, values),
        *_tile_mortar(room, shape, layout, values),
        *_band_mortar(room, waterproofing, values),
    )
    return Step(materials=materials, cautions=(CLASS_CAUTION,) if room.membrane else ())


def powder_kg(area_m2: float, film_mm: float, values: TradeValues) -> float:
    """Dry powder [kg] for a film of wet mortar: 20 m2 of 2.1213 mm at 1.2 kg/l take 50.91 kg before loss."""
    return area_m2 * film_mm * values.number("mortar.powder_per_litre")


def membrane_films(room: Room, values: TradeValues) -> tuple[Part, ...]:
    """The films [mm] under the membrane; none without one."""
    if room.membrane is None:
        return ()
    return (_ridges(membrane_notch(room.membrane.thickness, values), values), _skim("substrate", values))


def tile_films(room: Room, values: TradeValues) -> tuple[Part, ...]:
    """The films [mm] under the tile: ridges, cavities of the membrane or key coat, back-buttering."""
    ridges = _ridges(tile_notch(_longest(room), values), values)
    ground = _cavities(room.membrane.thickness, values) if room.membrane else _skim("substrate", values)
    back = (
        (("tile backs buttered", values.number("mortar.back_butter")),) if back_buttered(room, values) else ()
    )
    return (ridges, ground, *back)


def back_buttered(room: Room, values: TradeValues) -> bool:
    """Large tile, and every tile in wet and exterior places, where nearly full contact is wanted."""
    return _longest(room) >= values.number("mortar.back_butter_edge") or room.hardest_exposure != "dry"


def full_contact(room: Room) -> bool:
    """Whether the tile's back must be held nearly all over: wet, outdoors, or of stone."""
    return room.hardest_exposure != "dry" or any(tile.material == "stone" for tile in room.tiles)


def membrane_classes(room: Room, values: TradeValues) -> tuple[str, ...]:
    """Mortar classes accepted between the ground, the fall screed where one is laid, and what lies on it."""
    return _accepted_on(_places(room, _laid_on(room)), values)


def tile_classes(room: Room, values: TradeValues) -> tuple[str, ...]:
    """Mortar classes accepted under the tile: the membrane's, or without one the substrate's."""
    return _accepted_on(_places(room, "membrane" if room.membrane else _laid_on(room)), values)


def membrane_mortar(room: Room, values: TradeValues) -> MortarChoice:
    """The mortar to take between ground and membrane; the ground is the fall screed where one is laid."""
    return _choice(_places(room, _laid_on(room)), values)


def tile_mortar(room: Room, values: TradeValues) -> MortarChoice:
    """The mortar to take under the tile."""
    choice = _choice(_places(room, "membrane" if room.membrane else _laid_on(room)), values)
    return replace(choice, large_format=_large(room, values))


def _laid_on(room: Room) -> str:
    return room.substrate.kind if room.falls == "none" else "screed_cement"


def _choice(places: list[str], values: TradeValues) -> MortarChoice:
    """Of what all these places accept, what the hardest of them, the last, wants."""
    rows = {str(row["place"]): row for row in values.table("mortar.choice")}
    wanted, accepted = [rows[place] for place in reversed(places)], _accepted_on(places, values)
    ansi, en = (next(str(row[norm]) for row in wanted if row[norm] in accepted) for norm in ("ansi", "en"))
    others = tuple(word for word in accepted if word not in (ansi, en))
    return MortarChoice(ansi, en, str(wanted[0]["why"]), others)


def _large(room: Room, values: TradeValues) -> bool:
    return _longest(room) >= values.number("setting.large_format_edge")


def _places(room: Room, ground: str) -> list[str]:
    heated = ["water_heating"] if room.heating == "water" or room.substrate.kind == "screed_heated" else []
    outside = ["exterior"] if room.hardest_exposure == "exterior" else []
    return [ground, *heated, *outside]


def _accepted_on(places: list[str], values: TradeValues) -> tuple[str, ...]:
    """What every one of these places accepts, in the order of the first."""
    rows = {str(row["place"]): list(row["accepted"]) for row in values.table("mortar.classes")}
    first, *others = (rows[place] for place in places)
    return tuple(word for word in first if all(word in other for other in others))


def _membrane_mortar(room: Room, shape: FloorShape, values: TradeValues) -> tuple[Material, ...]:
    area = shape.measures.floor_area_m2
    parts = _powder(area, membrane_films(room, values), values)
    wanted = (Fitness("classes", one_of=membrane_classes(room, values)),)
    return material("membrane_mortar", "kg", parts, _loss(values), room=room.name, fitness=wanted)


def _tile_mortar(room: Room, shape: FloorShape, layout: Layout, values: TradeValues) -> tuple[Material, ...]:
    parts = _powder(layout.bedded_area_m2(room.joint), tile_films(room, values), values)
    wanted = [Fitness("classes", one_of=tile_classes(room, values))]
    if _large(room, values):
        wanted.append(Fitness("large_format", one_of=("yes",)))
    parts += _skirting(room, shape, values)
    return material("tile_mortar", "kg", parts, _loss(values), room=room.name, fitness=tuple(wanted))


def _skirting(room: Room, shape: FloorShape, values: TradeValues) -> list[Part]:
    """Skirting tile is combed like the floor and needs no filling of cavities."""
    if room.skirting is None:
        return []
    area = shape.measures.wall_length_m * room.skirting.height / MM_PER_M
    _, film = _ridges(tile_notch(_longest(room), values), values)
    return [(f"skirting {room.skirting.height:g} mm high", powder_kg(area, film, values))]


def _band_mortar(
    room: Room, waterproofing: Waterproofing | None, values: TradeValues
) -> tuple[Material, ...]:
    if waterproofing is None:
        return ()
    usual = values.number("waterproofing.band_width")
    wall = max(usual, wide_band_mm(room, values))
    seams_m = waterproofing.band_length_m - waterproofing.wall_band_m
    area_m2 = (seams_m * usual + waterproofing.wall_band_m * wall) / MM_PER_M
    films = (_ridges(notch_named(values.word("mortar.band_notch"), values), values),)
    parts = _powder(area_m2, films, values)
    wanted = (Fitness("classes", one_of=_accepted_on(_places(room, "membrane"), values)),)
    return material(
        "band_mortar", "kg", parts, _loss(values), room=room.name, fitness=wanted, one_system=True
    )


def _powder(area_m2: float, films: tuple[Part, ...], values: TradeValues) -> list[Part]:
    return [(f"{text}: {film:.2f} mm", powder_kg(area_m2, film, values)) for text, film in films]


def _ridges(notch: Notch, values: TradeValues) -> Part:
    angle = values.number("mortar.trowel_angle")
    return f"ridges of a {notch} at {angle:g} degrees", mean_film_mm(notch, angle)


def _skim(ground: str, values: TradeValues) -> Part:
    return f"key coat on the {ground}", values.number("mortar.skim")


def _cavities(thickness: str, values: TradeValues) -> Part:
    height = values.number(f"membrane.thickness.{thickness}")
    return f"cavities of a {height:g} mm membrane", height * values.number("mortar.cavity_void")


def _loss(values: TradeValues) -> Part:
    return "mixing loss", values.number("mortar.loss")


def _longest(room: Room) -> float:
    return max(tile.longest_edge for tile in room.tiles)
