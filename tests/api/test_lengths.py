"""Lengths as written, compared with pint, which has its own tables of units."""

from __future__ import annotations

import math

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.api.framework.lengths import parse_length

units = pint.UnitRegistry()


def by_pint(feet: float = 0, inches: float = 0) -> float:
    return float((feet * units.foot + inches * units.inch).to("mm").magnitude)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("3600 mm", 3600),
        ("3600mm", 3600),
        ("3.6 m", 3600),
        ("3,6 m", 3600),
        ("3,65 m", 3650),
        ("360 cm", 3600),
        ("0", 0),
        ("11 ft 9 3/4 in", by_pint(11, 9.75)),
        ("11' 9 3/4\"", by_pint(11, 9.75)),
        ("11'9 3/4\"", by_pint(11, 9.75)),
        ("11' 9-3/4\"", by_pint(11, 9.75)),
        ("11′ 9 3/4″", by_pint(11, 9.75)),
        ("11' 9¾\"", by_pint(11, 9.75)),
        ("11-9", by_pint(11, 9)),
        ("11-9 3/4", by_pint(11, 9.75)),
        ("11-0", by_pint(11)),
        ("11 ft", by_pint(11)),
        ("11.5 ft", by_pint(11.5)),
        ("11'", by_pint(11)),
        ("141.5 in", by_pint(inches=141.5)),
        ("9 3/4 in", by_pint(inches=9.75)),
        ('3/4"', by_pint(inches=0.75)),
        ("½ in", by_pint(inches=0.5)),
        ("  3.6\u00a0M ", 3600),
        ("-2 m", -2000),
    ],
)
def test_a_length_is_read_as_pint_reads_it(text: str, expected: float) -> None:
    assert float(parse_length(text)) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "3600",
        "3.6",
        "abc",
        "3.6 yd 2",
        "1,200 mm",
        "11-13",
        "11 ft 12 in",
        "9 4/3 in",
        "9 0/4 in",
        "9 3/0 in",
        "1e3 mm",
        "nan mm",
        "inf m",
        "--2 m m",
        "3..6 m",
        "٣ m",
        "9" * 60 + " mm",
    ],
)
def test_what_is_no_length_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"."):
        parse_length(text)


@given(feet=st.integers(0, 400), inches=st.integers(0, 11), sixteenths=st.integers(1, 15))
def test_feet_inches_and_sixteenths_are_exact(feet: int, inches: int, sixteenths: int) -> None:
    read = parse_length(f"{feet} ft {inches} {sixteenths}/16 in")
    assert read * 160 == (feet * 12 + inches) * 16 * 254 + sixteenths * 254
    assert math.isclose(float(read), by_pint(feet, inches + sixteenths / 16), rel_tol=1e-12)


@given(st.text(max_size=20))
def test_no_text_breaks_the_reader(text: str) -> None:
    try:
        length = parse_length(text)
    except ValueError:
        return
    assert math.isfinite(length)
