"""Are the pieces that the layout leaves good pieces?"""

from __future__ import annotations

from service.sentence import Sentence, say
from service.takeoff.answer import Finding, Layout
from service.takeoff.room import Room
from service.trade.values import TradeValues


def findings(room: Room, layout: Layout, values: TradeValues) -> tuple[Finding, ...]:
    """Slivers left out, the narrowest piece, and notched pieces."""
    found = (slivers(room, layout, values), narrowest(room, layout, values), notches(layout, values))
    return tuple(finding for finding in found if finding)


def slivers(room: Room, layout: Layout, values: TradeValues) -> Finding | None:
    if not layout.unlaid_slivers:
        return None
    said = say(
        "Pieces under {least:g mm} that are not laid: {count}; "
        "joint or profile takes them up, or the layout is shifted.",
        least=room.min_piece,
        count=layout.unlaid_slivers,
    )
    return Finding("slivers", "condition", said, values.citation("checks.least_cut"))


def narrowest(room: Room, layout: Layout, values: TradeValues) -> Finding | None:
    """The narrowest piece against half the tile's shorter side."""
    piece = layout.narrowest_piece_mm
    if piece is None:
        return None
    side = min(tile.shortest_edge for tile in room.tiles)
    source, least = values.citation("checks.least_cut"), side * values.number("checks.least_cut")
    if piece >= least:
        return Finding("narrowest_piece", "pass", f"Narrowest piece {piece:.0f} mm.", source)
    return Finding("narrowest_piece", "condition", _narrow(room, piece), source)


def balanced_cut_mm(tile_mm: float, remainder_mm: float) -> float:
    """Both cuts [mm] where one whole tile and the remainder are shared out: 24 and 1.5 in give 12.75 in."""
    return (tile_mm + remainder_mm) / 2


def notches(layout: Layout, values: TradeValues) -> Finding | None:
    count = layout.cuts.notch_l + layout.cuts.notch_u
    if not count:
        return None
    said = f"Notches in the tile: {count}. {values.word('checks.notch_practice')}"
    return Finding("notches", "pass", said, values.citation("checks.notch_practice"))


def _narrow(room: Room, piece: float) -> Sentence:
    """With what sharing the remainder out gives, where a square tile leaves no doubt about the direction."""
    if len(room.tiles) > 1 or room.tile.length != room.tile.width or room.pattern.kind != "stack_bond":
        return say(
            "Narrowest piece {piece:.0f mm}, under half the tile; the owner should agree.", piece=piece
        )
    return say(
        "Narrowest piece {piece:.0f mm}, under half the tile (shared out over both ends: about "
        "{shared:.0f mm}); the owner should agree.",
        piece=piece,
        shared=balanced_cut_mm(room.tile.length, piece),
    )
