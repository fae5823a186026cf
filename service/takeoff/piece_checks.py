"""Are the pieces that the layout leaves good pieces?"""

from __future__ import annotations

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
    said = (
        f"Pieces under {room.min_piece:g} mm that are not laid: {layout.unlaid_slivers}; "
        "joint or profile takes them up, or the layout is shifted."
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
    shared = _balanced(room, piece)
    said = f"Narrowest piece {piece:.0f} mm, under half the tile{shared}; the owner should agree."
    return Finding("narrowest_piece", "condition", said, source)


def balanced_cut_mm(tile_mm: float, remainder_mm: float) -> float:
    """Both cuts [mm] where one whole tile and the remainder are shared out: 24 and 1.5 in give 12.75 in."""
    return (tile_mm + remainder_mm) / 2


def notches(layout: Layout, values: TradeValues) -> Finding | None:
    count = layout.cuts.notch_l + layout.cuts.notch_u
    if not count:
        return None
    said = f"Notches in the tile: {count}. {values.word('checks.notch_practice')}"
    return Finding("notches", "pass", said, values.citation("checks.notch_practice"))


def _balanced(room: Room, piece: float) -> str:
    """What sharing the remainder out would give, where a square tile leaves no doubt about the direction."""
    if len(room.tiles) > 1 or room.tile.length != room.tile.width or room.pattern.kind != "stack_bond":
        return ""
    return f" (shared out over both ends: about {balanced_cut_mm(room.tile.length, piece):.0f} mm)"
