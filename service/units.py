"""Exact conversion factors between metric and US customary units.

Every factor follows from the international yard and pound agreement of 1959 and the legal US gallon
(231 cubic inches), as tabulated in NIST SP 811 appendix B.8. The US survey foot is not used: it was
retired at the end of 2022. Factors are decimals; only a pound by area and a psi do not terminate.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

MM_PER_INCH = Decimal("25.4")
MM_PER_FOOT = 12 * MM_PER_INCH
MM_PER_YARD = 3 * MM_PER_FOOT
M_PER_FT = MM_PER_FOOT / 1000
MM2_PER_IN2 = MM_PER_INCH**2
M2_PER_FT2 = M_PER_FT**2
M3_PER_FT3 = M_PER_FT**3
KG_PER_LB = Decimal("0.45359237")
ML_PER_US_FL_OZ = 231 * MM_PER_INCH**3 / 1000 / 128
L_PER_US_GAL = 128 * ML_PER_US_FL_OZ / 1000
KG_M2_PER_LB_FT2 = KG_PER_LB / M2_PER_FT2
STANDARD_GRAVITY = Decimal("9.80665")
PA_PER_PSI = KG_PER_LB * STANDARD_GRAVITY / (MM2_PER_IN2 / 1_000_000)

PER_US_UNIT: Mapping[str, tuple[str, Decimal]] = {
    "mm": ("in", MM_PER_INCH),
    "m": ("ft", M_PER_FT),
    "m2": ("ft2", M2_PER_FT2),
    "kg": ("lb", KG_PER_LB),
    "l": ("US gal", L_PER_US_GAL),
    "ml": ("US fl oz", ML_PER_US_FL_OZ),
    "kg/m2": ("lb/ft2", KG_M2_PER_LB_FT2),
}
"""The US unit of the same kind, and how much of the metric one it is."""
SUFFIXES: Mapping[str, str] = {"_m2": "m2", "_m": "m", "_mm": "mm", "_kg": "kg"}
"""How names of metric figures end, with their unit."""


def to_us(value: float, unit: str) -> tuple[float, str]:
    """A metric figure in the US unit of the same kind, not rounded; a unit without one stays as it is.

    12 m2 are 129.1669 ft2 (NIST SP 811 B.8).
    """
    us_unit, measure = PER_US_UNIT.get(unit, (unit, Decimal(1)))
    return value / float(measure), us_unit


def us_name(name: str) -> tuple[str, str] | None:
    """The name of the US figure beside the metric one of this name, and the metric unit: floor_area_m2 gives
    floor_area_ft2 and m2; None where the name ends in no unit."""
    suffix = next((end for end in SUFFIXES if name.endswith(end)), None)
    if suffix is None:
        return None
    unit = SUFFIXES[suffix]
    return f"{name.removesuffix(suffix)}_{PER_US_UNIT[unit][0]}", unit


def celsius_to_fahrenheit(degrees: float) -> float:
    """A temperature [degC] in degF; a difference of temperatures takes the factor 1.8 only."""
    return 1.8 * degrees + 32
