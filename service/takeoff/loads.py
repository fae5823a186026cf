"""What the new floor weighs on a ground that spans: its layers for good, flood-test water for a day."""

from __future__ import annotations

from math import fsum

from service.sentence import listed, say
from service.takeoff import falls, levelling
from service.takeoff.answer import Finding
from service.takeoff.geometry import FloorShape
from service.takeoff.moisture import SPANNING
from service.takeoff.mortar import membrane_films, powder_kg, tile_films
from service.takeoff.parts import Part
from service.takeoff.room import Room, TileMaterial
from service.takeoff.waterproofing_rules import pondable
from service.trade.values import TradeValues

MM_PER_M = 1000.0


def findings(room: Room, shape: FloorShape, values: TradeValues) -> tuple[Finding, ...]:
    """What an engineer must be told of a floor that spans; nothing of one that lies on the ground."""
    if room.substrate.structure not in SPANNING:
        return ()
    layers = layers_kg_m2(room, shape, values)
    added = say(
        "The new floor adds {added:.1f kg/m2} on average ({layers})",
        added=fsum(weight for _, weight in layers),
        layers=listed(
            say("{layer:layer} {weight:.1f (kg/m2)}", layer=name, weight=weight) for name, weight in layers
        ),
    )
    if not pondable(room, shape, values):
        said = say(
            "{added}: an engineer or licensed contractor judges whether the floor carries it.", added=added
        )
        heaviest = max(room.tiles, key=lambda tile: tile_weight_kg_m2(tile.thickness, tile.material, values))
        source = values.citation(f"substrate.tile_density.{heaviest.material}")
        return (Finding("added_load", "condition", said, source),)
    said = say(
        "{added}, a flood test {water:.1f kg/m2} for its time: an engineer or licensed contractor judges "
        "whether the floor carries both.",
        added=added,
        water=flood_load_kg_m2(values.number("substrate.flood_head"), values),
    )
    return (Finding("added_load", "condition", said, values.citation("substrate.flood_head")),)


def layers_kg_m2(room: Room, shape: FloorShape, values: TradeValues) -> tuple[Part, ...]:
    """The layers from the top, each with its mean weight [kg/m2]; mortar and compound by their dry powder.

    The heaviest tile of a pattern counts for all of it. Powder wasted in mixing stays out.
    """
    films = (*membrane_films(room, values), *tile_films(room, values))
    layers = (
        ("tile", max(tile_weight_kg_m2(t.thickness, t.material, values) for t in room.tiles)),
        ("bonding mortars", powder_kg(1.0, fsum(film for _, film in films), values)),
        ("fall screed", _screed_kg_m2(room, shape, values)),
        (
            "levelling compound",
            levelling.compound_kg(1.0, levelling.mean_depth_mm(room, shape, values), values),
        ),
    )
    return tuple((name, weight) for name, weight in layers if weight)


def tile_weight_kg_m2(thickness_mm: float, material: TileMaterial, values: TradeValues) -> float:
    """Weight of tile [kg/m2]: 10 mm of porcelain at 2350 kg/m3 weigh 23.5 kg/m2."""
    return thickness_mm / MM_PER_M * values.number(f"substrate.tile_density.{material}")


def flood_load_kg_m2(head_mm: float, values: TradeValues) -> float:
    """Load of standing water [kg/m2]: 2 in are 50.8 kg/m2 (ASTM D5957)."""
    return head_mm / MM_PER_M * values.number("substrate.water_density")


def _screed_kg_m2(room: Room, shape: FloorShape, values: TradeValues) -> float:
    if room.falls == "none":
        return 0.0
    return falls.mean_depth_mm(room, shape, values) * values.number("falls.density")
