"""Runs longer than what they are cut from: joined end to end out of as few pieces as can be."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

_NOISE_MM = 1e-6


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
