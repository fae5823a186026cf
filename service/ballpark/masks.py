"""Which questions are answered, as the numbered cases that a model is fitted for."""

from __future__ import annotations

from collections.abc import Collection
from itertools import product

from service.ballpark.answers import CHOICES

SIZES: tuple[frozenset[str], ...] = (
    frozenset(),
    frozenset({"area_m2"}),
    frozenset({"lengths"}),
    frozenset({"area_m2", "lengths"}),
)
CASES: tuple[frozenset[str], ...] = tuple(
    size | {question for question, yes in zip(CHOICES, answered, strict=True) if yes}
    for size in SIZES
    for answered in product((False, True), repeat=len(CHOICES))
)
"""Every set of answered questions but for the room's kind, which has models of its own."""
NUMBERS = {case: number for number, case in enumerate(CASES)}


SIZED = SIZES[-1]


def case_of(answered: Collection[str]) -> frozenset[str]:
    return frozenset(answered) - {"room_kind"}


def nexts(case: frozenset[str]) -> dict[str, frozenset[str]]:
    """The questions still open, each with the case that its answer leads to."""
    open_ = {question: case | {question} for question in (*CHOICES, "area_m2") if question not in case}
    if "lengths" not in case:
        open_["lengths"] = case | {"lengths"}
    return open_
