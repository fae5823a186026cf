"""How much powder is mixed with how much water, in how many batches."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from service.pricing.model import Line
from service.takeoff.answer import Material, RoomShare
from service.trade.values import TradeValues

NOISE = 1e-9  # of a batch, which does not begin another
AS_THE_BAG_SAYS = "as the bag says"


@dataclass(frozen=True, slots=True)
class Water:
    """Water [l] to a kilogram of powder, from the least to the most that bags ask for."""

    least: float
    most: float
    source: str


@dataclass(frozen=True, slots=True)
class Mixing:
    """The powder [kg] of one material: full batches, the last one, and its water; None: as the bag says."""

    role: str
    description: str
    powder_kg: float
    by_room: tuple[RoomShare, ...]
    batch_kg: float
    full_batches: int
    last_batch_kg: float
    water: Water | None
    batch_source: str

    def water_l(self, powder_kg: float) -> tuple[float, float] | None:
        """The least and the most water for this much powder."""
        return (powder_kg * self.water.least, powder_kg * self.water.most) if self.water else None


def mixing(materials: Sequence[Material], lines: Sequence[Line], values: TradeValues) -> tuple[Mixing, ...]:
    """All that is mixed from powder, in the order of building. A bag that one batch can hold is one."""
    most = {str(row["role"]): float(row["most"]) for row in values.table("mixing.batch")}
    return tuple(
        _mixing(material, most[material.role], [line for line in lines if place in line.needs], values)
        for place, material in enumerate(materials)
        if material.unit == "kg" and material.role in most
    )


def _mixing(material: Material, most: float, bought: Sequence[Line], values: TradeValues) -> Mixing:
    bags = [float(line.pack_size) for line in bought if line.pack_size and line.pack_size <= most]
    powder, batch = material.with_allowance, max(bags, default=most)
    full = ceil(powder / batch - NOISE) - 1
    return Mixing(
        role=material.role,
        description=bought[0].description if bought else material.role.replace("_", " "),
        powder_kg=powder,
        by_room=material.shares,
        batch_kg=batch,
        full_batches=full,
        last_batch_kg=powder - full * batch,
        water=_water(material.role, values),
        batch_source=values.citation("mixing.batch"),
    )


def _water(role: str, values: TradeValues) -> Water | None:
    rows = {str(row["role"]): row for row in values.table("mixing.water")}
    row = rows.get(role)
    if row is None:
        return None
    return Water(float(row["least"]), float(row["most"]), values.citation("mixing.water"))
