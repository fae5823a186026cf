"""The fitted model: compact to keep, quick to ask.

A price is asked in a few microseconds and without arrays: rows of coefficients are added up for the words
that were answered, and weighed by the size.
"""

from __future__ import annotations

import io
import json
import math
from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from itertools import product

import numpy as np

from service.ballpark.answers import CHOICES, Answers
from service.ballpark.features import PAIRS
from service.ballpark.masks import CASES, NUMBERS, SIZED, case_of, nexts
from service.ballpark.sample import WORDS, Floats

ANY = ""
"""The kind of whoever does not say it."""
Rows = tuple[tuple[float, ...], ...]


@dataclass(frozen=True)
class Case:
    """One set of answered questions: coefficients [row of words, size], quantiles of price over regression
    [low/likely/high, node] at nodes of the area's logarithm, and the mean width over likely."""

    coefficients: Floats
    nodes: Floats
    quantiles: Floats
    width: float

    @cached_property
    def rows(self) -> Rows:
        return tuple(map(tuple, self.coefficients.tolist()))

    @cached_property
    def lines(self) -> tuple[list[float], list[list[float]]]:
        return self.nodes.tolist(), self.quantiles.T.tolist()


@dataclass(frozen=True, slots=True)
class Range:
    """Gross prices; `width` is high - low over likely."""

    low: float
    likely: float
    high: float

    @property
    def width(self) -> float:
        return (self.high - self.low) / self.likely


@dataclass(frozen=True)
class Model:
    """Of one office, price date and region. `areas` are the least and largest floor drawn of each kind."""

    generator: int
    rooms: int
    refused: int
    cases: Mapping[str, Sequence[Case]]
    areas: Mapping[str, tuple[float, float]]

    def range(self, said: Answers) -> Range:
        """The prices between which 90 % of such rooms lie; an unknown kind counts as not said."""
        case = case_of(said.answered)
        fitted = self.cases[self._kind(said)][NUMBERS[case]]
        at = _rows_of(said, case)
        sizes = _sizes(said)
        price = sum(size * sum(fitted.rows[row][i] for row in at) for i, size in enumerate(sizes))
        low, likely, high = _at(fitted, math.log(sizes[-1]) if len(sizes) > 1 else 0.0)
        return Range(low * price, likely * price, high * price)

    def ask_next(self, said: Answers) -> tuple[str, float] | None:
        """The open question whose answer narrows the range most on average, and to which mean width; None
        where no answer would narrow it."""
        asked = self._kind(said), case_of(said.answered)
        if asked not in self._asked:
            self._asked[asked] = self._narrowing(*asked)
        return self._asked[asked]

    @cached_property
    def _asked(self) -> dict[tuple[str, frozenset[str]], tuple[str, float] | None]:
        return {}

    def _narrowing(self, kind: str, case: frozenset[str]) -> tuple[str, float] | None:
        widths = {question: self.width(kind, to) for question, to in nexts(case).items()}
        if kind == ANY:
            known = [self.width(one, case) for one in self.cases if one != ANY]
            widths["room_kind"] = sum(known) / len(known)
        if not widths:
            return None
        best = min(widths, key=lambda question: widths[question])
        return (best, widths[best]) if widths[best] < self.width(kind, case) else None

    def width(self, kind: str, case: frozenset[str]) -> float:
        """Mean width over likely of rooms of this kind where these questions are answered."""
        return self.cases[kind][NUMBERS[case]].width

    def drawn(self, said: Answers) -> bool:
        """Whether floors of this size were among those that the model was learnt from."""
        least, most = self.areas[self._kind(said)]
        return said.floor_m2 is None or least <= said.floor_m2 <= most

    def _kind(self, said: Answers) -> str:
        return said.room_kind if said.room_kind and said.room_kind in self.cases else ANY

    def to_bytes(self) -> bytes:
        """As compressed arrays of single precision."""
        cases = [case for of_kind in self.cases.values() for case in of_kind]
        head = {
            "generator": self.generator,
            "rooms": self.rooms,
            "refused": self.refused,
            "kinds": list(self.cases),
            "areas": list(self.areas.values()),
        }
        file = io.BytesIO()
        np.savez_compressed(
            file,
            head=np.frombuffer(json.dumps(head).encode(), np.uint8),
            coefficients=np.concatenate([case.coefficients.ravel() for case in cases]).astype(np.float32),
            nodes=np.concatenate([case.nodes for case in cases]).astype(np.float32),
            quantiles=np.concatenate([case.quantiles.ravel() for case in cases]).astype(np.float32),
            widths=np.array([case.width for case in cases], np.float32),
        )
        return file.getvalue()

    @staticmethod
    def from_bytes(kept: bytes) -> Model:
        """ValueError for what `to_bytes` did not make."""
        arrays = np.load(io.BytesIO(kept), allow_pickle=False)
        head = json.loads(arrays["head"].tobytes())
        return Model(
            head["generator"],
            head["rooms"],
            head["refused"],
            dict(zip(head["kinds"], _cases(arrays, len(head["kinds"])), strict=True)),
            dict(zip(head["kinds"], map(tuple, head["areas"]), strict=True)),
        )


def _cases(arrays: Mapping[str, Floats], kinds: int) -> list[tuple[Case, ...]]:
    taken = dict.fromkeys(("coefficients", "nodes", "quantiles"), 0)

    def take(name: str, count: int) -> Floats:
        taken[name] += count
        return arrays_[name][taken[name] - count : taken[name]]

    arrays_ = {name: arrays[name].astype(float) for name in (*taken, "widths")}
    found = []
    for kind in range(kinds):
        of_kind = []
        for number, case in enumerate(CASES):
            sized = bool(case & SIZED)
            rows, sizes, nodes = row_count(case), 3 if sized else 1, 3 if sized else 1
            of_kind.append(
                Case(
                    take("coefficients", rows * sizes).reshape(rows, sizes),
                    take("nodes", nodes),
                    take("quantiles", 3 * nodes).reshape(3, nodes),
                    float(arrays_["widths"][kind * len(CASES) + number]),
                )
            )
        found.append(tuple(of_kind))
    return found


def row_count(case: frozenset[str]) -> int:
    """Rows of coefficients: one for all, then one for each word but the first and each pair of such."""
    return 1 + sum(len(names) for names in _layout(case).values())


def _layout(case: frozenset[str]) -> dict[tuple[str, ...], tuple[tuple[str, ...], ...]]:
    """The words, or pairs of words, that have rows, in order, by the questions that they answer."""
    asked: list[tuple[str, ...]] = [(question,) for question in CHOICES if question in case]
    asked += [pair for pair in PAIRS if set(pair) <= case]
    return {names: tuple(product(*(WORDS[name][1:] for name in names))) for names in asked}


@cache
def _places(case: frozenset[str]) -> dict[tuple[str, ...], dict[tuple[str, ...], int]]:
    """Where in the answers' words each row stands."""
    places: dict[tuple[str, ...], dict[tuple[str, ...], int]] = {}
    first = 1
    for names, words in _layout(case).items():
        places[names] = {word: first + i for i, word in enumerate(words)}
        first += len(words)
    return places


def _rows_of(said: Answers, case: frozenset[str]) -> list[int]:
    """The rows that count for these answers; the first word of a question has none."""
    found = [0]
    for names, places in _places(case).items():
        row = places.get(tuple(getattr(said, name) for name in names))
        if row is not None:
            found.append(row)
    return found


def _sizes(said: Answers) -> tuple[float, ...]:
    """The figures by which a row's coefficients are multiplied, as in `features.size_columns`."""
    area = said.floor_m2
    if area is None:
        return (1.0,)
    if said.length is not None and said.width is not None:
        return (1.0, (said.length + said.width) / 1000, area)
    return (1.0, math.sqrt(area), area)


def _at(case: Case, place: float) -> list[float]:
    """Low, likely and high over regression, between the two nearest nodes or at the last one."""
    nodes, lines = case.lines
    right = bisect_right(nodes, place)
    if right in (0, len(nodes)):
        return lines[min(right, len(nodes) - 1)]
    share = (place - nodes[right - 1]) / (nodes[right] - nodes[right - 1])
    return [a + share * (b - a) for a, b in zip(lines[right - 1], lines[right], strict=True)]
