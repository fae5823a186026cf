"""From the take-off's materials and hours to what pricing has to pay for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import astuple
from decimal import Decimal

from service.pricing.model import Condition, Hours, Need
from service.takeoff.answer import LabourLine, Material

HOURS_STEP = Decimal("0.01")


def needs_of(materials: Sequence[Material]) -> tuple[Need, ...]:
    """A need for each material. A wet job buys one membrane: a dry room's joins that of the system."""
    systems = {(m.role, m.fitness) for m in materials if m.one_system}
    return tuple(
        _need(place, m, m.one_system or (m.role, m.fitness) in systems) for place, m in enumerate(materials)
    )


def hours_of(labour: Sequence[LabourLine]) -> tuple[Hours, ...]:
    """Hours of each activity, to the hundredth of an hour that the quote prints."""
    return tuple(Hours(line.activity, line.driver, exact(line.hours).quantize(HOURS_STEP)) for line in labour)


def _need(place: int, material: Material, one_system: bool) -> Need:
    quantity = exact(material.with_allowance)
    return Need(
        role=material.role,
        unit=material.unit,
        quantity=quantity,
        conditions=tuple(Condition(*astuple(fitness)) for fitness in material.fitness),
        product=material.product,
        one_system=one_system,
        rooms=material.rooms,
        area_m2=None if material.piece_m2 is None else quantity * exact(material.piece_m2),
        lengths=material.lengths,
        places=(place,),
        limits=tuple(exact(share.quantity) for share in material.shares) if material.never_above else (),
    )


def exact(quantity: float) -> Decimal:
    """A computed quantity as a decimal, without the noise behind its sixth place."""
    return Decimal(repr(round(quantity, 6)))
