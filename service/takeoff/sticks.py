"""Lengths cut from sticks of one length."""

from __future__ import annotations

from collections.abc import Iterable

NOISE_MM = 1e-6


def first_fit(lengths: Iterable[float], stick: float, kerf: float) -> tuple[tuple[float, ...], ...]:
    """Runs [mm] cut from sticks [mm], longest first, each from the first stick that still has room for it.

    A run longer than a stick takes whole sticks and joins the rest to them. A saw cut falls between two
    pieces of a stick, and none at the end of a stick used up. First-fit decreasing (D. S. Johnson, 1973):
    at most 11/9 of the fewest sticks, and 6/9 of a stick more.
    """
    sticks: list[list[float]] = []
    for piece in sorted((p for run in lengths for p in split(run, stick)), reverse=True):
        fitting = (s for s in sticks if sum(s) + len(s) * kerf + piece <= stick + NOISE_MM)
        chosen = next(fitting, None)
        if chosen is None:
            sticks.append([piece])
        else:
            chosen.append(piece)
    return tuple(tuple(pieces) for pieces in sticks)


def split(run: float, stick: float) -> list[float]:
    """A run as whole sticks and the rest [mm]."""
    whole = int((run + NOISE_MM) // stick)
    rest = run - whole * stick
    return [stick] * whole + ([rest] if rest > NOISE_MM else [])


def sawn(sticks: tuple[tuple[float, ...], ...], kerf: float) -> float:
    """Length lost in saw cuts [mm]."""
    return kerf * sum(len(pieces) - 1 for pieces in sticks)


def bought(sticks: tuple[tuple[float, ...], ...], stick: float, kerf: float) -> float:
    """Length [mm] that must be bought: every stick whole but the emptiest, of which only what is cut."""
    used = [sum(pieces) + sawn((pieces,), kerf) for pieces in sticks]
    return stick * (len(used) - 1) + min(used) if used else 0.0
