"""Conversion factors against pint and the published figures of NIST SP 811 B.8."""

from decimal import Decimal
from fractions import Fraction

import pint
import pytest

from service import units

registry = pint.UnitRegistry(non_int_type=Fraction)


def by_pint(unit: str, into: str) -> Fraction:
    return Fraction(registry.Quantity(Fraction(1), unit).to(into).magnitude)


@pytest.mark.parametrize(
    ("factor", "unit", "into"),
    [
        (units.MM_PER_INCH, "inch", "mm"),
        (units.MM_PER_FOOT, "foot", "mm"),
        (units.MM_PER_YARD, "yard", "mm"),
        (units.M_PER_FT, "foot", "m"),
        (units.MM2_PER_IN2, "inch**2", "mm**2"),
        (units.M2_PER_FT2, "foot**2", "m**2"),
        (units.M3_PER_FT3, "foot**3", "m**3"),
        (units.KG_PER_LB, "pound", "kg"),
        (units.L_PER_US_GAL, "gallon", "liter"),
        (units.ML_PER_US_FL_OZ, "fluid_ounce", "milliliter"),
    ],
)
def test_terminating_factors_are_exactly_those_of_pint(factor: Decimal, unit: str, into: str) -> None:
    assert Fraction(factor) == by_pint(unit, into)


@pytest.mark.parametrize(
    ("factor", "unit", "into"),
    [
        (units.KG_M2_PER_LB_FT2, "pound/foot**2", "kg/m**2"),
        (units.PA_PER_PSI, "pound_force_per_square_inch", "pascal"),
    ],
)
def test_other_factors_hold_to_25_digits(factor: Decimal, unit: str, into: str) -> None:
    assert abs(Fraction(factor) / by_pint(unit, into) - 1) < Fraction(1, 10**25)


@pytest.mark.parametrize(
    ("metric", "unit", "figure", "us_unit"),
    [
        (12, "m2", 129.1669, "ft2"),  # NIST SP 811 B.8
        (13.935456, "m2", 150, "ft2"),
        (22.6796185, "kg", 50, "lb"),
        (298.6926, "ml", 10.1, "US fl oz"),
        (3.785411784, "l", 1, "US gal"),
        (25.4, "mm", 1, "in"),
        (4.88242763638, "kg/m2", 1, "lb/ft2"),
        (23.5, "kg/m2", 4.813, "lb/ft2"),  # a 10 mm tile of 2350 kg/m3 (from memory)
    ],
)
def test_us_figures(metric: float, unit: str, figure: float, us_unit: str) -> None:
    shown, shown_unit = units.to_us(metric, unit)
    assert shown == pytest.approx(figure, rel=1e-4)
    assert shown_unit == us_unit


def test_a_unit_without_us_fellow_stays() -> None:
    assert units.to_us(7, "piece") == (7, "piece")


def test_published_psi_and_pressure() -> None:
    assert float(units.PA_PER_PSI) == pytest.approx(6894.757293168, abs=1e-9)  # NIST SP 811 B.8
    assert 1e6 / float(units.PA_PER_PSI) == pytest.approx(145.0377, abs=1e-4)


@pytest.mark.parametrize(("square_feet", "hours"), [(100, 0.861), (250, 0.344)])
def test_a_days_square_feet_as_hours_per_square_metre(square_feet: float, hours: float) -> None:
    """Eight hours a day; the factors of NIST SP 811 B.8."""
    assert 8 / (square_feet * float(units.M2_PER_FT2)) == pytest.approx(hours, abs=5e-4)


def test_fahrenheit() -> None:
    assert units.celsius_to_fahrenheit(10) == pytest.approx(50)
    assert units.celsius_to_fahrenheit(-40) == pytest.approx(-40)
