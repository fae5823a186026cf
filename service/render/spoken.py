"""What a take-off tells the crew, in another language than English."""

from __future__ import annotations

from dataclasses import replace

from service.render.document.figures import told
from service.render.document.language import SOURCE, Tongue
from service.sentence import Sentence
from service.takeoff.answer import RoomTakeoff, Takeoff


def spoken(takeoff: Takeoff, speak: Tongue) -> Takeoff:
    """With findings, cautions, instructions and tools in this language, as far as the catalogue has them."""
    if speak.code == SOURCE:
        return takeoff
    return replace(
        takeoff,
        rooms=tuple(_room(room, speak) for room in takeoff.rooms),
        cautions=tuple(_said(speak, caution) for caution in takeoff.cautions),
        instructions=tuple(replace(each, text=_said(speak, each.text)) for each in takeoff.instructions),
        tools=tuple(_said(speak, tool) for tool in takeoff.tools),
    )


def _room(room: RoomTakeoff, speak: Tongue) -> RoomTakeoff:
    said = (replace(finding, message=_said(speak, finding.message)) for finding in room.findings)
    return replace(room, findings=tuple(said))


def _said(speak: Tongue, sentence: Sentence | str) -> str:
    return str(told(speak, sentence).text)
