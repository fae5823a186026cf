"""Does tile suit joint, bond, membrane and place? And are the pieces that the layout leaves good pieces?"""

from __future__ import annotations

from service.sentence import say
from service.takeoff import joint_checks, piece_checks, size_checks
from service.takeoff.allowance import usual_waste, waste_key
from service.takeoff.answer import Finding, Layout, Step
from service.takeoff.geometry import FloorShape
from service.takeoff.moisture import SPANNING
from service.takeoff.mortar import full_contact
from service.takeoff.room import Room, TileMaterial
from service.trade.values import TradeValues


def take(room: Room, shape: FloorShape, layout: Layout, values: TradeValues) -> Step:
    """Findings on the tile of one room."""
    found = (
        not_laid_out(room, layout, values),
        *joint_checks.findings(room, values),
        *piece_checks.findings(room, layout, values),
        *size_checks.findings(room, values),
        *not_told(room, values),
        stone(room, values),
        tile_on_membrane(room, values),
        contact(room, values),
        lippage(room, values),
        slip(room, values),
        frost(room, values),
    )
    return Step(findings=tuple(finding for finding in found if finding))


def not_laid_out(room: Room, layout: Layout, values: TradeValues) -> Finding | None:
    """Without a shape there are no rows to count and no lines to draw."""
    if layout.laid_out:
        return None
    said = say(
        "Only area and perimeter are known, so this is an allowance and not a layout: tile with "
        "{waste:.0%} of usual waste, membrane and joints as in a rectangle.",
        waste=usual_waste(room, values),
    )
    return Finding("allowance", "condition", said, values.citation(waste_key(room)))


def not_told(room: Room, values: TradeValues) -> tuple[Finding, ...]:
    """What nobody said of the tile. Its material bears on how far a floor that spans may bend."""
    facts = {fact for tile in room.tiles for fact in tile.assumed}
    source = values.citation("checks.usual_tile")
    found = []
    if "thickness" in facts:
        said = say(
            "The thickness of the tile is not known: it is taken to be {thickness:g mm}.",
            thickness=max(tile.thickness for tile in room.tiles if "thickness" in tile.assumed),
        )
        found.append(Finding("tile_thickness", "condition", said, source, "tile_thickness"))
    if "material" in facts:
        spans = room.substrate.structure in SPANNING
        said = say("The material of the tile is not known: it is taken to be porcelain.")
        found.append(Finding("tile_material", "condition", said, source, "tile_material", accept=spans))
    return tuple(found)


def stone(room: Room, values: TradeValues) -> Finding | None:
    """Some stone stains, warps or shows dark mortar: its supplier says which."""
    if all(tile.material != "stone" for tile in room.tiles):
        return None
    said = say(values.word("checks.stone"))
    return Finding("stone", "condition", said, values.citation("checks.stone"), "stone")


def tile_on_membrane(room: Room, values: TradeValues) -> Finding | None:
    """A tile must bridge the membrane's cavities: neither too small nor too thin."""
    if room.membrane is None:
        return None
    side, thickness = min(t.shortest_edge for t in room.tiles), min(t.thickness for t in room.tiles)
    for key, has, what in (
        ("checks.membrane_tile_side", side, say("Tile side")),
        ("checks.membrane_tile_thickness", thickness, say("Tile thickness")),
    ):
        least = values.number(key)
        if has < least:
            said = say(
                "{what} {has:g mm}, over the membrane {least:g mm} is the least "
                "unless the makers of both allow it.",
                what=what,
                has=has,
                least=least,
            )
            return Finding("tile_on_membrane", "condition", said, values.citation(key))
    held = f"Tile of {side:g} mm side and {thickness:g} mm thickness bridges the membrane."
    return Finding("tile_on_membrane", "pass", held, values.citation("checks.membrane_tile_side"))


def contact(room: Room, values: TradeValues) -> Finding:
    """How much of the tile's back the mortar must hold."""
    key = "checks.contact_wet" if full_contact(room) else "checks.contact_dry"
    said = f"Mortar holds at least {values.number(key):.0%} of every tile: lift one now and then and look."
    return Finding("contact", "pass", said, values.citation(key))


def lippage(room: Room, values: TradeValues) -> Finding:
    """How far neighbouring edges may differ in height; the warpage of the tile is not known here."""
    material = room.tile.material
    allowed = lippage_mm(room.joint, 0.0, material, values)
    more = " and the tile's own warpage" if lippage_mm(room.joint, 1.0, material, values) > allowed else ""
    said = f"Neighbouring edges may differ by {allowed:.1f} mm{more}."
    return Finding("lippage", "pass", said, values.citation(_lippage_key(room.joint, material, values)))


def lippage_mm(joint_mm: float, warpage_mm: float, material: TileMaterial, values: TradeValues) -> float:
    """Lippage allowed [mm]: joint 3 mm and warpage 0.5 mm allow 1/32 in + 0.5 = 1.294 mm.

    Warpage comes on top where the country's limit leaves it out; never for stone.
    """
    share = 0.0 if material == "stone" else values.number("checks.lippage_warpage")
    return values.number(_lippage_key(joint_mm, material, values)) + share * warpage_mm


def slip(room: Room, values: TradeValues) -> Finding:
    """Wet and outdoors the maker's declaration is asked for; tile sold for floors is fit for dry ones."""
    key = f"checks.slip.{room.hardest_exposure}"
    if room.hardest_exposure == "dry":
        said = f"Kept dry, the floor wants {values.word(key)}, as tile sold for floors has."
        return Finding("slip", "pass", said, values.citation(key))
    said = say("Ask for the maker's declaration: the tile wants {wanted}.", wanted=say(values.word(key)))
    return Finding("slip", "condition", said, values.citation(key), "slip")


def frost(room: Room, values: TradeValues) -> Finding | None:
    if room.hardest_exposure != "exterior":
        return None
    most = values.number("checks.absorption")
    said = say(
        "Outdoors the tile must be declared frost-proof or take up at most {most:g %} of water: ask for it.",
        most=most,
    )
    return Finding("frost", "condition", said, values.citation("checks.absorption"), "frost")


def _lippage_key(joint_mm: float, material: TileMaterial, values: TradeValues) -> str:
    if material == "stone":
        return "checks.lippage_stone"
    wide = joint_mm >= values.number("checks.lippage_joint")
    return "checks.lippage_wide" if wide else "checks.lippage_narrow"
