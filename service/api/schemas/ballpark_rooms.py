"""From the answers of a ballpark to the room that the office starts its quote with.

What was not said is taken as the generated rooms have it most often, and told.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from service.ballpark.distributions import Distributions, KindOfRoom, Words, distributions
from service.quoting.ballparks.rooms import DRAIN_MM, PATTERNS, pattern_of
from service.takeoff.room import Tile

DOORWAY_WALLS = (0, 2, 1, 3)


def room_of(answers: Mapping[str, Any]) -> tuple[dict[str, Any], list[str]]:
    """A room as RoomSchema takes it, and what was assumed; ValueError where no size is known."""
    of = distributions()
    kind = of.kinds[answers.get("room_kind", next(iter(of.kinds)))]
    assumed: list[str] = []
    length, width = _sides(answers, kind, assumed)
    words = {name: _word(name, answers, weights, assumed) for name, weights in _questions(of, kind).items()}
    room: dict[str, Any] = {
        "name": str(answers.get("room_kind", "room")).replace("_", " ").capitalize(),
        "rectangle": {"length": length, "width": width},
        "doorways": _doorways(kind, length, width, assumed),
        "exposure": words["exposure"],
        "heating": words["heating"],
        "substrate": {"flatness": {"gap": of.gap_mm.median, "under": 3000}},
        "origin": "corner",
        **_tiled(of, words, assumed),
    }
    if words["drain"] == "in_floor":
        room["obstructions"] = [{"kind": "drain", "centre": [length / 4, width / 2], "diameter": DRAIN_MM}]
    assumed.append(f"A gap of {of.gap_mm.median:g} mm under 3 m; what the substrate is stays to be said.")
    if words["existing_covering"] != "none":
        room["existing"] = {"covering": words["existing_covering"]}
    return room, assumed


def site_of(answers: Mapping[str, Any]) -> dict[str, Any]:
    """The site as JobSchema takes it."""
    return {"occupied": answers.get("home", distributions().words["homes"].usual) == "lived_in"}


def _questions(of: Distributions, kind: KindOfRoom) -> dict[str, Words]:
    names = {"tile_size": "tile_sizes", "pattern": "patterns"}
    asked = ("existing_covering", "heating", "drain", "home")
    return {
        "exposure": kind.exposures,
        **{name: of.words[plural] for name, plural in names.items()},
        **{name: of.words[f"{name}s"] for name in asked},
    }


def _word(name: str, answers: Mapping[str, Any], words: Words, assumed: list[str]) -> str:
    if name in answers:
        return str(answers[name])
    usual = words.usual
    assumed.append(f"{name.replace('_', ' ').capitalize()}: {usual.replace('_', ' ')}.")
    return usual


def _sides(answers: Mapping[str, Any], kind: KindOfRoom, assumed: list[str]) -> tuple[float, float]:
    """A rectangle of the area and the proportion said, as far as they are said."""
    length, width = answers.get("length"), answers.get("width")
    area = answers.get("area_m2") or (length * width / 1e6 if length and width else None)
    if area is None:
        raise ValueError("This ballpark knows no size: ask for an area, or for length and width.")
    ratio = length / width if length and width else kind.ratio.median
    across = math.sqrt(1e6 * area / ratio)
    sides = round(ratio * across), round(across)
    assumed.append(f"A rectangle of {sides[0]} x {sides[1]} mm.")
    return sides


def _doorways(kind: KindOfRoom, length: float, width: float, assumed: list[str]) -> list[dict[str, Any]]:
    """As many as the kind has most often, each in the middle of its wall where that is long enough."""
    wide = 800
    walls = (length, width, length, width)
    count = int(kind.doorways.usual)
    fit = [wall for wall in DOORWAY_WALLS[:count] if walls[wall] >= wide]
    assumed.append(f"{len(fit)} doorways {wide} mm wide, carpet beyond them.")
    return [
        {"wall": wall, "offset": round((walls[wall] - wide) / 2), "width": wide, "adjoining": "carpet"}
        for wall in fit
    ]


def _tiled(of: Distributions, words: Mapping[str, str], assumed: list[str]) -> dict[str, Any]:
    size, pattern = words["tile_size"], words["pattern"]
    length, width = of.tiles[size]["herringbone" if pattern == "herringbone" else "even"][0]
    thickness = of.shapes["thickness_mm"][size]
    assumed.append(f"Porcelain tile {length:g} x {width:g} x {thickness:g} mm at the office's allowance.")
    laid = pattern_of(pattern, Tile(length, width, thickness)) if pattern in PATTERNS else None
    return {
        "tile": {"length": length, "width": width, "thickness": thickness, "material": "porcelain"},
        "joint": of.shapes["joint_mm"][size],
        **({} if laid is None else {"pattern": _said(laid.kind, str(laid.offset), laid.rotation)}),
    }


def _said(kind: str, offset: str, rotation: float) -> dict[str, Any]:
    return {"kind": kind, "rotation": rotation} | ({"offset": offset} if offset != "0" else {})
