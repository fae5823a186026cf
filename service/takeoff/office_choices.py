"""Products that the office has chosen for a room: those that nothing in it asks for are told."""

from __future__ import annotations

from collections.abc import Iterable

from service.sentence import listed, say
from service.takeoff.answer import Finding, Material
from service.takeoff.room import Room
from service.trade.values import TradeValues


def unneeded(room: Room, materials: Iterable[Material], values: TradeValues) -> tuple[Finding, ...]:
    """A finding where a product is chosen for a role that the room does not need; none elsewhere."""
    needed = {material.role for material in materials}
    spare = [role.replace("_", " ") for role, _ in room.choices if role not in needed]
    if not spare:
        return ()
    key = "assembly.unneeded_choice"
    said = say(
        "{told}: {roles}.",
        told=say(values.word(key)),
        roles=listed(say("{role:role}", role=role) for role in spare),
    )
    return (Finding("unneeded_choice", "condition", said, values.citation(key)),)
