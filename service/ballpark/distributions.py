"""The written distributions of what a home owner does not say (rooms.toml), as plain objects that draw."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from random import Random
from statistics import NormalDist
from typing import Any

TERCILE = NormalDist().inv_cdf(2 / 3)


@dataclass(frozen=True, slots=True)
class Spread:
    """A quantity whose logarithm is normal, drawn again where it is beyond the limits."""

    median: float
    spread: float
    least: float
    most: float

    def draw(self, random: Random) -> float:
        while True:
            drawn = self.median * math.exp(self.spread * random.gauss())
            if self.least <= drawn <= self.most:
                return drawn

    @property
    def thirds(self) -> tuple[float, float]:
        """The bounds between its small, middle and large third."""
        return tuple(self.median * math.exp(sign * self.spread * TERCILE) for sign in (-1, 1))  # type: ignore[return-value]


@dataclass(frozen=True, slots=True)
class Words:
    """Words with their weights."""

    weights: Mapping[str, float]

    def draw(self, random: Random) -> str:
        return random.choices(list(self.weights), list(self.weights.values()))[0]

    @property
    def usual(self) -> str:
        """The word of most weight."""
        return max(self.weights, key=lambda word: self.weights[word])


@dataclass(frozen=True, slots=True)
class KindOfRoom:
    name: str
    area_m2: Spread
    ratio: Spread
    weight: float
    l_shaped: float
    pier: float
    doorways: Words
    exposures: Words
    pipes: Sequence[int]


@dataclass(frozen=True, slots=True)
class Distributions:
    """All that rooms are drawn from; `version` names it."""

    version: int
    kinds: Mapping[str, KindOfRoom]
    words: Mapping[str, Words]
    any: Mapping[str, Any]
    gap_mm: Spread
    tiles: Mapping[str, Mapping[str, Sequence[Sequence[float]]]]
    shapes: Mapping[str, Any]


@cache
def distributions() -> Distributions:
    """As written in rooms.toml."""
    data = tomllib.loads((resources.files("service.ballpark") / "rooms.toml").read_text("utf-8"))
    words = {name: Words(value) for name, value in data["any"].items() if _is_words(value)}
    return Distributions(
        version=data["version"],
        kinds={name: _kind(name, said) for name, said in data["kinds"].items()},
        words=words,
        any={name: value for name, value in data["any"].items() if name not in words},
        gap_mm=Spread(**data["any"]["gap_mm"]),
        tiles=data["tiles"],
        shapes=data["shapes"],
    )


def _is_words(value: Any) -> bool:
    return isinstance(value, dict) and "median" not in value


def _kind(name: str, said: Mapping[str, Any]) -> KindOfRoom:
    spreads: dict[str, Any] = {key: Spread(**said[key]) for key in ("area_m2", "ratio")}
    words: dict[str, Any] = {key: Words(value) for key, value in said.items() if _is_words(value)}
    return KindOfRoom(name=name, **{**said, **words, **spreads})
