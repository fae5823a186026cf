"""What the customer pays, line by line and room by room: never cost, supplier or margin.

Every way of showing prices adds up to net exactly.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from operator import add

from service.pricing.lines import DAY_WORK
from service.pricing.model import Line, LineKind, Priced
from service.pricing.money import apportion
from service.takeoff.answer import RoomTakeoff

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class Shown:
    """One line as the customer sees it; `quantity` is None where it says nothing to them."""

    kind: LineKind
    role: str
    name: str  # of the product, empty where none is chosen; of day work what is done
    unit: str
    quantity: Decimal | None
    price: Decimal
    allowance: bool


def shown_lines(priced: Priced) -> tuple[Shown, ...]:
    """Packs of one product are one line, so is all delivery, so that no supplier can be counted."""
    merged: dict[tuple[object, ...], Shown] = {}
    for line in priced.lines:
        one = _shown(line)
        key = (one.kind, one.role, one.name, one.unit, one.allowance)
        merged[key] = _added(merged[key], one) if key in merged else one
    return tuple(merged.values())


def _shown(line: Line) -> Shown:
    material, by_hour = line.kind == "material", line.group == DAY_WORK
    return Shown(
        kind=line.kind,
        role=line.role,
        name=line.description if by_hour or (material and line.product is not None) else "",
        unit=line.unit,
        quantity=line.quantity if material or by_hour else None,
        price=line.price,
        allowance=line.allowance,
    )


def _added(one: Shown, other: Shown) -> Shown:
    quantity = None if one.quantity is None or other.quantity is None else one.quantity + other.quantity
    return Shown(one.kind, one.role, one.name, one.unit, quantity, one.price + other.price, one.allowance)


def room_shares(priced: Priced, rooms: Sequence[RoomTakeoff]) -> tuple[Decimal, ...]:
    """Each room's part of net, in whole minor units.

    What serves several rooms is shared out by their floor areas; discount and rounding follow the prices.
    """
    areas = [Decimal(str(room.measures.floor_area_m2)) for room in rooms]
    unit = smallest_unit(priced)
    shares = [ZERO] * len(rooms)
    for line in priced.lines:
        if line.kind != "adjustment":
            served = _serving(line, rooms)
            parts = apportion(line.price, [areas[place] for place in served], unit)
            for place, part in zip(served, parts, strict=True):
                shares[place] += part
    changed = sum((line.price for line in priced.lines if line.kind == "adjustment"), ZERO)
    return tuple(map(add, shares, apportion(changed, shares, unit)))


def _serving(line: Line, rooms: Sequence[RoomTakeoff]) -> list[int]:
    """The rooms that a line is for; all of them where it names none that is there."""
    named = [place for place, room in enumerate(rooms) if room.name in line.rooms]
    return named or list(range(len(rooms)))


def smallest_unit(priced: Priced) -> Decimal:
    """The last decimal that any price of the quote has: whole minor units of its rounding."""
    exponents = [_exponent(line.price) for line in priced.lines]
    return Decimal(1).scaleb(min(exponents, default=-2))


def _exponent(value: Decimal) -> int:
    exponent = value.as_tuple().exponent
    return min(exponent, 0) if isinstance(exponent, int) else 0


def by_kind(lines: Sequence[Shown]) -> Mapping[LineKind, tuple[Shown, ...]]:
    """The lines of each kind in the order of a bill."""
    kinds: tuple[LineKind, ...] = ("material", "labour", "delivery", "adjustment")
    found = {kind: tuple(line for line in lines if line.kind == kind) for kind in kinds}
    return {kind: some for kind, some in found.items() if some}
