"""The plan of a room for a document: without the sheet's frame, its own words only in their language."""

from __future__ import annotations

from xml.etree import ElementTree

from service.render.document.blocks import Drawing
from service.render.document.language import SOURCE, Tongue
from service.render.document.text import isolated
from service.render.layers import LAYERS
from service.render.plan import plan_svg
from service.render.sheet import AROUND, BELOW, LEFT, Sheet, sheet_for
from service.render.svg import NAMESPACE, number
from service.takeoff.answer import RoomTakeoff
from service.takeoff.room import Outline, Room

CREWS_OWN = frozenset({"block", "piece-ids", "membrane-seams"})
"""Layers that the crew needs and a customer does not."""
IN_ENGLISH = frozenset({"doorway-words", "obstruction-words", "open-edges"})
"""Groups with words of the drawing's own."""
WIDEST, HIGHEST = 150.0, 105.0
"""The largest drawing on a page [mm]."""


def plan_of(tongue: Tongue, room: Room, answer: RoomTakeoff) -> Drawing | None:
    """The drawn floor; None where only its area is known."""
    if answer.layout.plan is None or not isinstance(room.shape, Outline):
        return None
    layers = [layer for layer in LAYERS if layer not in CREWS_OWN]
    svg, width, height = _cropped(
        plan_svg(room, answer, "us" if tongue.us_units else "mm", layers),
        sheet_for(room.shape.ring),
        tongue.code == SOURCE,
    )
    scale = min(WIDEST / width, HIGHEST / height, 1.0)
    alt = tongue.say("Plan of the tiles in {room}", room=isolated(room.name))
    return Drawing(svg, alt, width * scale, height * scale)


def _cropped(svg: str, sheet: Sheet, with_words: bool) -> tuple[str, float, float]:
    """The room and its dimensions alone, with their width and height on the sheet [mm]."""
    ElementTree.register_namespace("", NAMESPACE)
    root = ElementTree.fromstring(svg)  # noqa: S314 - written by this service
    length, depth = (high - low for low, high in zip(sheet.low, sheet.high, strict=True))
    left, top = sheet.left - LEFT, sheet.bottom - depth / sheet.scale - AROUND
    width, height = length / sheet.scale + LEFT + AROUND, depth / sheet.scale + AROUND + BELOW
    root.set("viewBox", " ".join(map(number, (left, top, width, height))))
    root.set("width", f"{number(width)}mm")
    root.set("height", f"{number(height)}mm")
    for group in [] if with_words else [child for child in root if child.get("id") in IN_ENGLISH]:
        for words in group.findall(f"{{{NAMESPACE}}}text"):
            group.remove(words)
    return ElementTree.tostring(root, encoding="unicode"), width, height
