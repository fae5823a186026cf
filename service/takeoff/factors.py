"""Why a unit of work takes longer or less long than the table's rate says."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import prod


@dataclass(frozen=True, slots=True)
class Factor:
    """One circumstance of the work, how much longer a unit takes by it, and where that is from.

    A table may have a rate of its own for it, named by the activity and `of`: "set_large:herringbone". Such
    a rate holds in place of the activity's, and then the factor does not.
    """

    name: str
    factor: float
    reason: str
    source: str = ""
    of: str = ""


@dataclass(frozen=True, slots=True)
class LabourPart:
    """So much of a line's quantity as has one rate and the same factors; factors of 1 are left out."""

    rate: str
    quantity: float
    hours_per_unit: float
    factors: tuple[Factor, ...] = ()

    @property
    def weighted(self) -> float:
        """The quantity as it would be of plain work: what the table's rate is multiplied by."""
        return self.quantity * product_of(self.factors)

    @property
    def hours(self) -> float:
        return self.weighted * self.hours_per_unit


def product_of(factors: Iterable[Factor]) -> float:
    return prod(factor.factor for factor in factors)
