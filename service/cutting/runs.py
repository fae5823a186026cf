"""Runs longer than what they are cut from: joined end to end out of as few pieces as can be."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import ceil

STEPS_PER_MM = 1000
"""Runs are kept to a thousandth of a millimetre."""

_NOISE_MM, _NOISE_STEPS = 1e-6, 1e-3


@dataclass(frozen=True, slots=True)
class CutLengths:
    """Runs to cut from sticks or rolls: each length [mm] with how many there are.

    Mitres and trimming are in the lengths. What is counted in m2 comes in rolls of `width_mm`; `narrow` are
    further runs that take up less than that, each length with its width [mm] and how many there are. A run is
    joined only where it is longer than the longest stick or roll, of pieces no shorter than `min_piece_mm`.
    """

    runs: tuple[tuple[float, int], ...]
    kerf_mm: float = 0.0
    min_piece_mm: float = 0.0
    width_mm: float | None = None
    narrow: tuple[tuple[float, float, int], ...] = ()

    def strips(self, longest: float) -> tuple[tuple[float, float, int], ...]:
        """All runs of roll goods as length, width and number, those longer than the longest roll parted."""
        full = 0.0 if self.width_mm is None else self.width_mm
        runs = (*((length, full, count) for length, count in self.runs), *self.narrow)
        pieces: Counter[tuple[float, float]] = Counter()
        for run, width, count in runs:
            for piece in split(run, longest, self.min_piece_mm):
                pieces[piece, width] += count
        return tuple((length, width, count) for (length, width), count in pieces.items())


def kept(length: float) -> float:
    """A length [mm] to a thousandth, rounded up, so that equal ones count as one."""
    return ceil(length * STEPS_PER_MM - _NOISE_STEPS) / STEPS_PER_MM


def runs_of(lengths: Iterable[float]) -> tuple[tuple[float, int], ...]:
    """Lengths [mm] with how often each comes, longest first."""
    return _longest_first(Counter(map(kept, lengths)))


def narrow_of(strips: Iterable[tuple[float, float]]) -> tuple[tuple[float, float, int], ...]:
    """Lengths and widths [mm] with how often each comes, longest first; widths as they are."""
    counted = Counter((kept(length), width) for length, width in strips)
    return tuple(sorted(((*strip, count) for strip, count in counted.items()), reverse=True))


def together(lengths: Sequence[CutLengths]) -> CutLengths:
    """All runs to be cut from one product, longest first; the widest kerf and longest least piece hold."""
    runs: Counter[float] = Counter()
    narrow: Counter[tuple[float, float]] = Counter()
    for each in lengths:
        runs.update(dict(each.runs))
        narrow.update({(length, width): count for length, width, count in each.narrow})
    return replace(
        lengths[0],
        runs=_longest_first(runs),
        kerf_mm=max(each.kerf_mm for each in lengths),
        min_piece_mm=max(each.min_piece_mm for each in lengths),
        narrow=tuple(sorted(((*strip, count) for strip, count in narrow.items()), reverse=True)),
    )


def _longest_first(counted: Counter[float]) -> tuple[tuple[float, int], ...]:
    return tuple(sorted(counted.items(), reverse=True))


def split(run: float, longest: float, least: float = 0.0) -> list[float]:
    """A run [mm] as pieces no longer than `longest`, whole ones first.

    A rest shorter than `least` is made that long out of the last whole piece, as far as that leaves both
    long enough.
    """
    whole = int((run + _NOISE_MM) // longest)
    rest = run - whole * longest
    if rest <= _NOISE_MM:
        return [longest] * whole
    short = least - rest
    if whole and 0 < short <= longest - least:
        return [longest] * (whole - 1) + [longest - short, least]
    return [longest] * whole + [rest]
