"""Runs longer than what they are cut from: joined end to end out of as few pieces as can be."""

from __future__ import annotations

_NOISE_MM = 1e-6


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
