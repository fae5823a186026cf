"""The plan of a room for a document: without the sheet's frame, only its figures as words."""

from __future__ import annotations

from xml.etree import ElementTree

from service.render.document.blocks import Drawing
from service.render.document.language import Tongue
from service.render.document.text import isolated
from service.render.layers import LAYERS
from service.render.plan import plan_svg
from service.render.sheet import AROUND, BELOW, LEFT, Sheet, sheet_for
from service.render.svg import NAMESPACE, number
from service.takeoff.answer import RoomTakeoff
from service.takeoff.room import Outline, Room

ElementTree.register_namespace("", NAMESPACE)
TEXT = f"{{{NAMESPACE}}}text"
CREWS_OWN = frozenset({"block", "piece-ids", "membrane-seams"})
"""Layers that the crew needs and a customer does not."""
IN_ENGLISH = frozenset({"doorway-words", "obstruction-words", "open-edges"})
"""Groups with words of the drawing's own."""
WIDEST, HIGHEST = 84.0, 60.0
"""The largest drawing beside a room's facts [mm]."""
LARGEST_LETTERS = 2.0
"""By how much words grow at most, where the drawing is made smaller."""


def plan_of(tongue: Tongue, room: Room, answer: RoomTakeoff) -> Drawing | None:
    """The drawn floor; None where only its area is known."""
    if answer.layout.plan is None or not isinstance(room.shape, Outline):
        return None
    layers = [layer for layer in LAYERS if layer not in CREWS_OWN]
    root = ElementTree.fromstring(  # noqa: S314 - written by this service
        plan_svg(room, answer, "us" if tongue.us_units else "mm", layers)
    )
    width, height = _cropped(root, sheet_for(room.shape.ring))
    _silenced(root)
    scale = min(WIDEST / width, HIGHEST / height, 1.0)
    _readable(root, scale)
    alt = tongue.say("Plan of the tiles in {room}", room=isolated(room.name))
    return Drawing(ElementTree.tostring(root, encoding="unicode"), alt, width * scale, height * scale)


def _cropped(root: ElementTree.Element, sheet: Sheet) -> tuple[float, float]:
    """Let only the room and its dimensions be seen; their width and height on the sheet [mm]."""
    length, depth = (high - low for low, high in zip(sheet.low, sheet.high, strict=True))
    left, top = sheet.left - LEFT, sheet.bottom - depth / sheet.scale - AROUND
    width, height = length / sheet.scale + LEFT + AROUND, depth / sheet.scale + AROUND + BELOW
    root.set("viewBox", " ".join(map(number, (left, top, width, height))))
    root.set("width", f"{number(width)}mm")
    root.set("height", f"{number(height)}mm")
    return width, height


def _silenced(root: ElementTree.Element) -> None:
    for group in [child for child in root if child.get("id") in IN_ENGLISH]:
        for words in group.findall(TEXT):
            group.remove(words)


def _readable(root: ElementTree.Element, scale: float) -> None:
    """Letters as large as they were, as far as there is room for them."""
    grown = min(1 / scale, LARGEST_LETTERS)
    for words in root.iter(TEXT):
        words.set("font-size", number(float(words.get("font-size", "0")) * grown))
