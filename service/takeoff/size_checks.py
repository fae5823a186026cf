"""Can tile of this size be had, and be laid by one person?"""

from __future__ import annotations

from service.sentence import say
from service.takeoff.answer import Finding
from service.takeoff.loads import tile_weight_kg_m2
from service.takeoff.room import Room, Tile
from service.trade.values import TradeValues


def findings(room: Room, values: TradeValues) -> tuple[Finding, ...]:
    """Longest edge and heaviest tile, each only where it is out of the common."""
    found = (longest_edge(room, values), heaviest(room, values))
    return tuple(finding for finding in found if finding)


def longest_edge(room: Room, values: TradeValues) -> Finding | None:
    key = "checks.largest_edge"
    most, edge = values.number(key), max(tile.longest_edge for tile in room.tiles)
    if edge <= most:
        return None
    said = say(
        "A tile edge of {edge:g mm} is over {most:g mm}, the longest that thin-bed panels are made: "
        "check the size; if it stands, its maker's written instructions decide how it is laid.",
        edge=edge,
        most=most,
    )
    return Finding("tile_size", "condition", said, values.citation(key))


def heaviest(room: Room, values: TradeValues) -> Finding | None:
    key = "checks.one_person_lift"
    most, weight = values.number(key), heaviest_kg(room, values)
    if weight <= most:
        return None
    said = say(
        "A tile weighs {weight:.0f kg}, over {most:g kg}: two people or a lifting device carry and set each.",
        weight=weight,
        most=most,
    )
    return Finding("tile_weight", "condition", said, values.citation(key))


def heaviest_kg(room: Room, values: TradeValues) -> float:
    """Weight of the heaviest tile [kg]."""
    return max(tile_kg(tile, values) for tile in room.tiles)


def tile_kg(tile: Tile, values: TradeValues) -> float:
    """Weight of one tile [kg]: 600 x 600 x 10 mm of porcelain at 2350 kg/m3 weigh 8.46 kg."""
    face_m2 = tile.length * tile.width / 1e6
    return face_m2 * tile_weight_kg_m2(tile.thickness, tile.material, values)
