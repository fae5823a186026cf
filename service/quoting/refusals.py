"""Floors that the price table shows must not be built so."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from service.pricing.model import Gap
from service.sentence import Sentence, listed, say
from service.takeoff.answer import Finding, RoomTakeoff, Takeoff

SOURCE = "common practice: membrane, band, corners and seals of a wet floor are declared as one system"


def without_system(takeoff: Takeoff, gaps: Iterable[Gap]) -> Takeoff:
    """The take-off with its sealed rooms refused, since no one system on sale has every part."""
    said = listed((_sentence(gap.message) for gap in gaps), "; ")
    refusal = Finding("one_system", "refuse", say("{said}.", said=said), SOURCE)
    return replace(takeoff, rooms=tuple(_refused(room, refusal) for room in takeoff.rooms))


def _sentence(message: str) -> Sentence:
    return message if isinstance(message, Sentence) else Sentence("{message:english}", {"message": message})


def _refused(room: RoomTakeoff, refusal: Finding) -> RoomTakeoff:
    return room if room.waterproofing is None else replace(room, findings=(*room.findings, refusal))
