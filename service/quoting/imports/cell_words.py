"""What words in cells and headings mean: units, signs of money, yes and no."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from functools import cache
from importlib import resources
from typing import Any

PACK = "pack"


@cache
def _table() -> Mapping[str, Any]:
    return tomllib.loads((resources.files(__package__) / "cell_words.toml").read_text("utf-8"))


@cache
def _units() -> Mapping[str, str]:
    return {word: unit for unit, words in _table()["units"].items() for word in words}


def unit_of(word: str) -> str | None:
    """The unit that a word means, `pack` for what a pack is called, None where it is not known."""
    return _units().get(" ".join(word.casefold().split()).removesuffix("."))


def yes_or_no(word: str) -> bool | None:
    """What a word for yes or no means, None where it is neither."""
    said = word.strip().casefold()
    return next((answer == "yes" for answer, words in _table()["flags"].items() if said in words), None)


@cache
def signs_of(currency: str) -> Sequence[str]:
    """How an amount in this currency (ISO 4217) may be marked: its code, its signs."""
    return (currency.casefold(), *(sign for sign, codes in _table()["signs"].items() if currency in codes))


@cache
def signs() -> frozenset[str]:
    """Every mark of money that is known."""
    codes = {code.casefold() for listed in _table()["signs"].values() for code in listed}
    return frozenset(codes | set(_table()["signs"]))


def foreign(text: str, currency: str) -> str | None:
    """The mark of another currency in a text, such as "€ 12.50" or "Price GBP"; None where there is none."""
    words = re.findall(r"[^\W\d_]+|[€£$¥]", text.casefold())
    return next((word for word in words if word in signs() and word not in signs_of(currency)), None)
