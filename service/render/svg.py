"""Writing SVG: one millimetre of paper is one user unit, figures have two decimals, words are escaped."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from service.takeoff.room import Point

NAMESPACE = "http://www.w3.org/2000/svg"
LONGEST_TEXT = 200
HALO = {"stroke": "#fff", "stroke_width": "0.8", "paint_order": "stroke", "stroke_linejoin": "round"}
"""A white ground around words, so that they can be read over hatching."""
ADVANCE = 0.58
"""Mean width of a sans-serif character as a part of the font size [from memory]."""

Attributes = dict[str, str]


def number(value: float) -> str:
    """Two decimals at most, without trailing zeros and without a negative zero."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def document(width: float, height: float, title: str) -> Element:
    """An empty sheet [mm]."""
    box = f"0 0 {number(width)} {number(height)}"
    size = {"width": f"{number(width)}mm", "height": f"{number(height)}mm", "viewBox": box}
    font = {"font-family": "Liberation Sans, Arial, Helvetica, DejaVu Sans, sans-serif"}
    root = Element("svg", {"xmlns": NAMESPACE, **size, **font})
    SubElement(root, "title").text = plain(title)
    SubElement(root, "rect", {"width": number(width), "height": number(height), "fill": "#fff"})
    return root


def written(root: Element) -> str:
    """The document as text, the same text for the same document."""
    indent(root, " ")
    return tostring(root, encoding="unicode") + "\n"


def group(parent: Element, id_: str, **attributes: str) -> Element:
    return SubElement(parent, "g", {"id": id_, **_named(attributes)})


def path(parent: Element, rings: Iterable[Sequence[Point]], closed: bool = True, **attributes: str) -> None:
    """One path of several rings or lines, in paper coordinates."""
    end = "Z" if closed else ""
    data = "".join("M" + "L".join(f"{number(x)} {number(y)}" for x, y in ring) + end for ring in rings)
    SubElement(parent, "path", {"d": data, **_named(attributes)})


def line(parent: Element, start: Point, end: Point, **attributes: str) -> None:
    ends = {"x1": start[0], "y1": start[1], "x2": end[0], "y2": end[1]}
    SubElement(parent, "line", {**{k: number(v) for k, v in ends.items()}, **_named(attributes)})


def rect(parent: Element, at: Point, width: float, height: float, **attributes: str) -> None:
    box = {"x": at[0], "y": at[1], "width": width, "height": height}
    SubElement(parent, "rect", {**{k: number(v) for k, v in box.items()}, **_named(attributes)})


def circle(parent: Element, centre: Point, radius: float, **attributes: str) -> None:
    figures = {"cx": centre[0], "cy": centre[1], "r": radius}
    SubElement(parent, "circle", {**{k: number(v) for k, v in figures.items()}, **_named(attributes)})


def text(parent: Element, at: Point, words: str, size: float, turn: float = 0.0, **attributes: str) -> None:
    """Words at a point, turned by `turn` degrees clockwise on the paper."""
    placed = {"x": number(at[0]), "y": number(at[1]), "font-size": number(size)}
    if turn:
        placed["transform"] = f"rotate({number(turn)} {number(at[0])} {number(at[1])})"
    SubElement(parent, "text", {**placed, **_named(attributes)}).text = plain(words)


def _named(attributes: Attributes) -> Attributes:
    """Attribute names as SVG writes them: stroke_width is stroke-width."""
    return {name.replace("_", "-"): value for name, value in attributes.items()}


def plain(words: str) -> str:
    """Printable characters only, as XML holds no control characters; clipped to LONGEST_TEXT."""
    shown = " ".join("".join(c if c.isprintable() else " " for c in words).split())
    return shown if len(shown) <= LONGEST_TEXT else shown[: LONGEST_TEXT - 1] + "\u2026"


def clipped(words: str, size: float, width: float) -> str:
    """Words that fit `width` mm at this font size, with an ellipsis where something had to go."""
    shown, most = plain(words), max(1, int(width / (ADVANCE * size)))
    return shown if len(shown) <= most else shown[: most - 1].rstrip() + "\u2026"


def text_width(words: str, size: float) -> float:
    return ADVANCE * size * len(words)
