"""Lengths in words, for the sheet: millimetres, or feet, inches and sixteenths."""

from __future__ import annotations

from fractions import Fraction
from typing import Literal

from service.units import MM_PER_INCH

LengthUnits = Literal["mm", "us"]

_FINEST = 16
"""Parts of an inch on a tape [common practice]."""


def length_text(millimetres: float, units: LengthUnits, finest: int = _FINEST) -> str:
    """3600 in millimetres, 11' 9 3/4" in feet and inches to the nearest sixteenth, or `finest` part."""
    if units == "mm":
        return f"{millimetres:.1f}".removesuffix(".0")
    parts = round(millimetres / float(MM_PER_INCH) * finest)
    feet, inches = divmod(Fraction(parts, finest), 12)
    words = _inches(inches) + '"'
    return f"{feet}' {words}" if feet else words


def _inches(inches: Fraction) -> str:
    whole, rest = divmod(inches, 1)
    fraction = f"{rest.numerator}/{rest.denominator}" if rest else ""
    return " ".join(part for part in (str(whole) if whole or not rest else "", fraction) if part)
