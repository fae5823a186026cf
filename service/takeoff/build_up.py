"""How high the layers of the floor stand over its substrate."""

from __future__ import annotations

from service.takeoff.answer import Fitness
from service.takeoff.notch import mean_film_mm, membrane_notch, tile_notch
from service.takeoff.room import Room
from service.trade.values import TradeValues


def tile_height_mm(room: Room, values: TradeValues) -> float:
    """Tile and the mortar film under it [mm]: the height of a profile whose leg lies on the membrane."""
    notch = tile_notch(max(tile.longest_edge for tile in room.tiles), values)
    film = mean_film_mm(notch, values.number("mortar.trowel_angle"))
    return max(tile.thickness for tile in room.tiles) + film


def finished_level_mm(room: Room, values: TradeValues) -> float:
    """The finished floor over the substrate [mm]: mortar film, membrane, mortar film, tile."""
    if room.membrane is None:
        return tile_height_mm(room, values)
    thickness = room.membrane.thickness
    bond_coat = mean_film_mm(membrane_notch(thickness, values), values.number("mortar.trowel_angle"))
    return bond_coat + values.number(f"membrane.thickness.{thickness}") + tile_height_mm(room, values)


def profile_fitness(height_mm: float, values: TradeValues) -> Fitness:
    """The heights [mm] of profile that serve a floor of this height: the nearest that is made."""
    lowest = height_mm - values.number("profiles.height_under")
    highest = height_mm + values.number("profiles.height_over")
    return Fitness("height_mm", at_least=lowest, at_most=highest)


def cable_held(room: Room, values: TradeValues) -> bool:
    """Whether the membrane is the one made to hold an electric heating cable."""
    return room.membrane is not None and room.membrane.thickness == values.word("membrane.heating_thickness")
