"""What a notched trowel leaves on a floor."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import pi, radians, sin
from typing import Any, Literal

from service.sentence import Sentence, say
from service.trade.values import TradeValues

NotchShape = Literal["square", "v", "u"]
SHAPES = {"square": say("square notch"), "v": say("V notch"), "u": say("U notch")}
MM_PER_INCH = 25.4


@dataclass(frozen=True, slots=True)
class Notch:
    """One trowel edge [mm]: width and depth of its notches, and the land left between two of them."""

    shape: NotchShape
    width: float
    depth: float
    land: float

    def __post_init__(self) -> None:
        if self.shape == "u" and self.depth < self.width / 2:
            raise ValueError("A U notch is at least half as deep as it is wide.")

    def __str__(self) -> str:
        return f"{SHAPES[self.shape]} {self.width:g} x {self.depth:g} mm"

    @property
    def words(self) -> Sentence:
        """As a tiler asks for it: in fractions of an inch where it is made so, and in mm."""
        wide, deep = (_sixteenths(side) for side in (self.width, self.depth))
        shape = SHAPES[self.shape]
        metric = say("{width:.3g} x {depth:.3g} mm", width=self.width, depth=self.depth)
        if wide is None or deep is None:
            return say("{shape} {metric}", shape=shape, metric=metric)
        return say("{shape} {wide} x {deep} in ({metric})", shape=shape, wide=wide, deep=deep, metric=metric)

    @property
    def ridge_mm2(self) -> float:
        """Cross-section of the ridge that one notch leaves with the trowel upright [mm2]."""
        if self.shape == "v":
            return self.width * self.depth / 2
        if self.shape == "u":
            return self.width * (self.depth - self.width / 2) + pi * self.width**2 / 8
        return self.width * self.depth


def mean_film_mm(notch: Notch, angle_deg: float) -> float:
    """Mean film [mm, which is litres per m2] of ridges combed with the trowel at `angle_deg` to the floor.

    Ridge area over pitch, lowered with the sine of the angle. A square 6 mm notch with equal land leaves
    3.000 mm upright, 2.598 mm at 60 and 2.121 mm at 45 degrees (plane geometry).
    """
    return notch.ridge_mm2 / (notch.width + notch.land) * sin(radians(angle_deg))


def notch_named(name: str, values: TradeValues) -> Notch:
    rows = {str(row["name"]): row for row in values.table("mortar.notches")}
    return _notch(rows[name])


def membrane_notch(thickness: str, values: TradeValues) -> Notch:
    """The notch that beds a membrane of this thickness ("standard" or "thick")."""
    rows = values.table("mortar.membrane_notch")
    return notch_named(next(str(row["notch"]) for row in rows if row["thickness"] == thickness), values)


def tile_notch(longest_edge_mm: float, values: TradeValues) -> Notch:
    """The notch that beds a tile, by its longest edge [mm]."""
    rows = values.table("mortar.tile_notch")
    return notch_named(next(str(row["notch"]) for row in rows if longest_edge_mm <= row["edge_to"]), values)


def _notch(row: dict[str, Any]) -> Notch:
    return Notch(row["shape"], float(row["width"]), float(row["depth"]), float(row["land"]))


def _sixteenths(length_mm: float) -> str | None:
    """The length in whole sixteenths of an inch; None where it is none."""
    parts = length_mm / MM_PER_INCH * 16
    return str(Fraction(round(parts), 16)) if abs(parts - round(parts)) < 1e-6 else None
