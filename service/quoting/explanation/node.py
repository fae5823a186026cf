"""One figure with what it came from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

Operation = Literal[
    "input",
    "measured",
    "sum",
    "difference",
    "product",
    "negative",
    "percent",
    "margin",
    "list",
    "share",
    "missing",
    "round",
    "packs",
    "whole",
    "quotient",
    "least",
]
OPERATIONS: Mapping[Operation, str] = {
    "input": "as somebody said it",
    "measured": "worked out of the rooms, by the trade values in its parts",
    "sum": "all parts added up",
    "difference": "the first less all others",
    "product": "all parts multiplied",
    "negative": "its part, taken off",
    "percent": "the first times the second over 100",
    "margin": "the first times m / (100 - m), m being the second",
    "list": "no figure, but its parts in order",
    "share": (
        "the first, shared out to the list in the second in proportion and by largest remainders, in whole"
        " steps of its rounding; of that the share at its place. With no weight at all the first takes all"
    ),
    "missing": "what the sum of the others lacks to the first, at least 0",
    "round": "its part",
    "packs": "how many the basket took of this size for its first part, which is what is needed",
    "whole": "the first over the second, up to whole ones",
    "quotient": "the first over the second",
    "least": "the smallest of its parts",
}
"""How a value comes from its parts' values, before it is rounded by its steps in turn."""


@dataclass(frozen=True, slots=True)
class Step:
    """Rounding to whole steps, halves away from zero or to the even step."""

    step: Decimal
    method: Literal["half_up", "half_even"]


@dataclass(frozen=True, slots=True)
class Node:
    """A figure: `figure` is its JSON pointer in the quote's answer, or a name that begins with #."""

    name: str
    value: Decimal
    unit: str
    operation: Operation
    words: str
    parts: tuple[Node, ...] = ()
    figure: str = ""
    source: str = ""
    steps: tuple[Step, ...] = ()
    place: int | None = None


def said(name: str, value: Decimal, unit: str, source: str, words: str = "as it was said") -> Node:
    """A leaf."""
    return Node(name, value, unit, "input", words, source=source)
