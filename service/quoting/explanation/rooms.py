"""Rooms: what was said of them, and what was measured, laid out and counted."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields, is_dataclass
from decimal import Decimal
from typing import Any

from service.quoting.explanation.facts import decimal
from service.quoting.explanation.figures import Figures
from service.quoting.explanation.node import Node, said
from service.quoting.explanation.told import Said, name_of, of_room, unit_of
from service.quoting.understood import room_as_understood

NOT_TOLD = frozenset({"plan", "tiles_cut", "tiles_by_size", "findings", "name"})
"""Members of a room's take-off that its answer tells otherwise or not at all."""
GAPS = {
    "layout/tiles_gap": ("layout/tiles_needed", "layout/tiles_lower_bound"),
    "membrane/rolls_gap": ("membrane/rolls", "membrane/rolls_bound"),
}
AS_UNDERSTOOD = "the request, with its defaults filled in"
INPUT_UNITS = {
    "area_m2": "m2",
    "rotation": "deg",
    "try_rotations": "deg",
    "built_year": "year",
    "age_days": "d",
    "value": "as its method says",
    **dict.fromkeys(("walls", "wall", "doorway", "room", "deflection"), "1"),
}


def add_rooms(figures: Figures) -> None:
    """Every number of every room."""
    takeoff = figures.facts.takeoff
    for place, (room, found) in enumerate(zip(takeoff.job.rooms, takeoff.rooms, strict=True)):
        _add_inputs(figures, place, room_as_understood(room))
        for path, value in _numbers(found):
            figures.add(f"/rooms/{place}/{path}", _measured, figures, place, path, value)
        for path, (first, less) in GAPS.items():
            if f"/rooms/{place}/{first}" in figures:
                figures.add(f"/rooms/{place}/{path}", _gap, figures, place, path, first, less)


def inputs_of(figures: Figures, place: int, names: Sequence[str] | None = None) -> tuple[Node, ...]:
    """What was said of a room in these members, in all where none are named."""
    held = [f"#/rooms/{place}/room"] if names is None else [f"#/rooms/{place}/room/{name}" for name in names]
    return figures.all(*(figure for figure in held if figure in figures))


def trade_values(figures: Figures, begins: tuple[str, ...]) -> list[Node]:
    """The numbers of the trade whose keys begin so."""
    held = [value for key, value in figures.facts.values.by_key.items() if begins and key.startswith(begins)]
    numbers = [value for value in held if isinstance(value.value, int | float)]
    return [
        said(v.key, decimal(v.value), v.unit, f"{v.citation}, from {v.from_date.isoformat()}", "trade value")
        for v in numbers
    ]


def _measured(figures: Figures, place: int, path: str, value: float) -> Node:
    how: Said = of_room(path)
    room = figures.facts.takeoff.rooms[place].name
    parts = (*inputs_of(figures, place, how.fields), *trade_values(figures, how.values))
    return Node(f"{room}: {name_of(path)}", decimal(value), unit_of(path), "measured", how.words, parts)


def _gap(figures: Figures, place: int, path: str, first: str, less: str) -> Node:
    parts = figures.all(f"/rooms/{place}/{first}", f"/rooms/{place}/{less}")
    value = parts[0].value - parts[1].value
    words = "by how much the count may lie over the fewest possible; 0 where it is proven"
    return Node(name_of(path), value, "1", "difference", words, parts)


def _numbers(value: Any, path: str = "") -> Iterator[tuple[str, float]]:
    """Every number in a take-off by its place in the answer."""
    if isinstance(value, bool) or value is None or isinstance(value, str):
        return
    if isinstance(value, int | float):
        yield path.removeprefix("/"), value
    elif is_dataclass(value):
        for field in fields(value):
            if field.name not in NOT_TOLD:
                yield from _numbers(getattr(value, field.name), f"{path}/{field.name}")
    elif isinstance(value, Mapping):
        for name, inner in value.items():
            yield from _numbers(inner, f"{path}/{name}")
    else:
        for number, inner in enumerate(value):
            yield from _numbers(inner, f"{path}/{number}")


def _add_inputs(figures: Figures, place: int, understood: Mapping[str, Any]) -> None:
    """Each number that was said, and under a name with # each member of the room with all its numbers."""
    here = f"/rooms/{place}/room"
    for name, value in understood.items():
        numbers = [f"{here}/{path}" for path, number in _said_numbers(value, name)]
        for path, number in _said_numbers(value, name):
            figures.add(f"{here}/{path}", _input, path, number)
        figures.add(f"#{here}/{name}", _listed, figures, name, _words(value), numbers)
    members = [f"#{here}/{name}" for name in understood]
    figures.add(f"#{here}", _listed, figures, f"{understood['name']} as understood", "", members)


def _said_numbers(value: Any, name: str) -> Iterator[tuple[str, float]]:
    return _numbers(value, f"/{name}")


def _input(path: str, value: float) -> Node:
    names = [name for name in path.split("/") if not name.isdigit()]
    unit = next((INPUT_UNITS[name] for name in reversed(names) if name in INPUT_UNITS), "mm")
    return said(name_of(path), decimal(value), unit, AS_UNDERSTOOD, "as it was said, or by default")


def _listed(figures: Figures, name: str, words: str, numbers: Sequence[str]) -> Node:
    told = words or "its members"
    return Node(name, Decimal(0), "1", "list", told, figures.all(*numbers), source=AS_UNDERSTOOD)


def _words(value: Any) -> str:
    """What of a member is no number, in words."""
    if isinstance(value, Mapping):
        told = (f"{name} {_words(inner)}" for name, inner in value.items() if _words(inner))
        return ", ".join(told)
    if isinstance(value, list):
        return "; ".join(words for words in map(_words, value) if words)
    if isinstance(value, bool):
        return "yes" if value else "no"
    return value if isinstance(value, str) else "none" if value is None else ""
