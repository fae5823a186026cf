"""Lengths in words, against hand-worked examples and pint."""

from __future__ import annotations

import re
from fractions import Fraction

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.render.lengths import length_text

UNITS = pint.UnitRegistry()
INCH = (1 * UNITS.inch).to(UNITS.mm).magnitude


@pytest.mark.parametrize(
    ("millimetres", "metric", "us"),
    [
        (3600.0, "3600", "11' 9 3/4\""),  # 3600 / 25.4 = 141.732 in = 11 ft 9.732 in, nearest 1/16 is 9 12/16
        (304.8, "304.8", "1' 0\""),
        (3.0, "3", '1/8"'),
        (0.0, "0", '0"'),
        (25.4, "25.4", '1"'),
        (609.0, "609", "2' 0\""),  # rounds up into the next foot
    ],
)
def test_examples(millimetres: float, metric: str, us: str) -> None:
    assert length_text(millimetres, "mm") == metric
    assert length_text(millimetres, "us") == us


@given(st.floats(0, 100_000))
def test_feet_and_inches_read_back_are_within_half_a_sixteenth(millimetres: float) -> None:
    said = length_text(millimetres, "us")
    match = re.fullmatch(r"(?:(\d+)' )?(?:(\d+)(?: |(?=\")))?(?:(\d+/\d+))?\"", said)
    assert match is not None
    feet, inches, part = (Fraction(found or 0) for found in match.groups())
    back = float(12 * feet + inches + part) * INCH
    assert abs(back - millimetres) <= INCH / 32 + 1e-6
    assert inches + part < 12
