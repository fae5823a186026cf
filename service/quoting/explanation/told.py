"""The words of figures.toml, found by a figure's place."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

UNITS = (("_m2", "m2"), ("_mm", "mm"), ("_m", "m"), ("_deg", "deg"), ("_percent", "percent"), ("hours", "h"))
PLAIN = {"outline": "mm", "origin": "mm", "start": "mm", "end": "mm", "lines": "mm", "folds": "mm"}


@dataclass(frozen=True, slots=True)
class Said:
    """How a figure is worked out, in words, and what bears on it."""

    words: str
    fields: tuple[str, ...] = ()
    values: tuple[str, ...] = ()
    figures: tuple[str, ...] = ()


@cache
def _read() -> Mapping[str, list[dict[str, Any]]]:
    text = (resources.files("service.quoting.explanation") / "figures.toml").read_text("utf-8")
    return tomllib.loads(text)


def of_room(path: str) -> Said:
    """What is said of a room's figure at this place."""
    held = [row for row in _read()["of_room"] if f"{path}/".startswith(f"{row['path']}/")]
    row = max(held, key=lambda row: len(row["path"]))
    return Said(row["words"], tuple(row["fields"]), tuple(row.get("values", ())))


def of_work(activity: str) -> Said:
    """What is said of an activity's quantity."""
    for row in _read()["of_work"]:
        begins = row["activity"]
        if activity == begins or (begins.endswith("_") and activity.startswith(begins)):
            return Said(row["words"], figures=tuple(row["figures"]))
    return Said("worked out of the rooms as they are laid out")


def of_reason(role: str, text: str) -> tuple[str | None, tuple[str, ...] | None]:
    """The room's figure that a part of a material is, and the trade values that bear; None: the role's."""
    for row in _read()["of_reason"]:
        if row["role"] == role and row["contains"] in text:
            return row.get("figure"), tuple(row["values"])
    return None, None


def unit_of(path: str) -> str:
    """The unit that the names on the way to a figure tell; 1 for a count or a ratio."""
    names = [name for name in path.split("/") if not re.fullmatch(r"\d+", name)]
    found = [unit for end, unit in UNITS if names[-1].endswith(end)]
    return found[0] if found else next((PLAIN[name] for name in reversed(names) if name in PLAIN), "1")


def name_of(path: str) -> str:
    return path.replace("/", " ").replace("_", " ")
