"""Dimensions below and to the left of the plan: a chain through the outline's corners, and the whole."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from xml.etree.ElementTree import Element

from service.render.lengths import LengthUnits, length_text
from service.render.sheet import THIN, WIDE, Sheet
from service.render.svg import group, line, number, text, text_width
from service.render.walls import WALL
from service.takeoff.room import Point

SIZE = 2.5
"""Font size [mm]."""
FIRST, SECOND = 10.0, 18.0
"""How far the chain and the whole stand from the room [mm]."""


@dataclass(frozen=True)
class _Axis:
    """One direction of measuring: from a place along it and a distance from the room to a paper point."""

    sheet: Sheet
    upright: bool

    def at(self, along: float, away: float) -> Point:
        if self.upright:
            return self.sheet.left - away, self.sheet.at((0.0, along))[1]
        return self.sheet.at((along, 0.0))[0], self.sheet.bottom + away


def draw_dimensions(root: Element, corners: Sequence[Point], sheet: Sheet, units: LengthUnits) -> None:
    layer = group(root, "dimensions", stroke="#000", stroke_width=number(THIN))
    words = group(root, "dimension-words", fill="#000", text_anchor="middle")
    for i, upright in enumerate((False, True)):
        axis = _Axis(sheet, upright)
        stops = _stops((corner[i] for corner in corners), sheet.scale, units)
        _chain(layer, words, axis, stops, FIRST, units)
        if len(stops) > 2:
            _chain(layer, words, axis, [stops[0], stops[-1]], SECOND, units)


def _stops(places: Iterable[float], scale: int, units: LengthUnits) -> list[float]:
    """The places to measure, less those so near that a figure between them could not be read."""
    ordered = sorted(set(places))
    first, last = ordered[0], ordered[-1]
    kept = [first]
    for place in ordered[1:-1]:
        if _readable(place - kept[-1], scale, units) and _readable(last - place, scale, units):
            kept.append(place)
    return [*kept, last]


def _readable(length: float, scale: int, units: LengthUnits) -> bool:
    return length / scale >= text_width(length_text(length, units), SIZE) + 1.5


def _chain(
    layer: Element, words: Element, axis: _Axis, stops: Sequence[float], away: float, units: LengthUnits
) -> None:
    """A dimension line with oblique strokes at its stops and the figures above it (ISO 129-1)."""
    line(layer, axis.at(stops[0], away), axis.at(stops[-1], away))
    for stop in stops:
        line(layer, axis.at(stop, WALL + 1.5), axis.at(stop, away + 1.5))
        x, y = axis.at(stop, away)
        line(layer, (x - 1, y + 1), (x + 1, y - 1), stroke_width=number(WIDE))
    for start, end in pairwise(stops):
        x, y = axis.at((start + end) / 2, away)
        at = (x - 1, y) if axis.upright else (x, y - 1)
        text(words, at, length_text(end - start, units), SIZE, -90 if axis.upright else 0)
