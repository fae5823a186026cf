"""What differs between two documents or two sets of figures, told member by member. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from service.pricing.model import Line
from service.quoting.needs import exact
from service.takeoff.answer import Takeoff


@dataclass(frozen=True, slots=True)
class Change:
    """A member that differs: where (RFC 6901), and what stood and stands there; None where nothing did."""

    pointer: str
    before: Any
    after: Any


@dataclass(frozen=True, slots=True)
class Moved:
    """A quantity or price that differs, in a unit; 0 where there was none."""

    what: str
    unit: str
    before: Decimal
    after: Decimal


def document_changes(before: Any, after: Any, pointer: str = "") -> Iterator[Change]:
    """The smallest members that differ between two JSON documents."""
    if isinstance(before, Mapping) and isinstance(after, Mapping):
        for name in sorted({*before, *after}):
            step = name.replace("~", "~0").replace("/", "~1")
            yield from document_changes(before.get(name), after.get(name), f"{pointer}/{step}")
    elif isinstance(before, list) and isinstance(after, list) and len(before) == len(after):
        for place, (old, new) in enumerate(zip(before, after, strict=True)):
            yield from document_changes(old, new, f"{pointer}/{place}")
    elif before != after:
        yield Change(pointer, before, after)


def quantity_changes(before: Takeoff, after: Takeoff) -> list[Moved]:
    """Material with its allowance by role, then hours by activity."""
    return [*_moved(_material(before), _material(after)), *_moved(_hours(before), _hours(after))]


def price_changes(before: Iterable[Line], after: Iterable[Line]) -> list[Moved]:
    """What a pack or an hour costs, of all that both revisions buy."""
    old, new = _costs(before), _costs(after)
    both = old.keys() & new.keys()
    return _moved({k: v for k, v in old.items() if k in both}, {k: v for k, v in new.items() if k in both})


def _moved(
    before: Mapping[tuple[str, str], Decimal], after: Mapping[tuple[str, str], Decimal]
) -> list[Moved]:
    found = []
    for what, unit in dict.fromkeys((*before, *after)):
        old, new = (side.get((what, unit), Decimal(0)) for side in (before, after))
        if old != new:
            found.append(Moved(what, unit, old, new))
    return found


def _material(takeoff: Takeoff) -> dict[tuple[str, str], Decimal]:
    return _summed((m.role, m.unit, m.with_allowance) for m in takeoff.materials)


def _hours(takeoff: Takeoff) -> dict[tuple[str, str], Decimal]:
    return _summed((work.activity, "h", work.hours) for work in takeoff.labour)


def _summed(parts: Iterable[tuple[str, str, float]]) -> dict[tuple[str, str], Decimal]:
    sums: dict[tuple[str, str], Decimal] = {}
    for what, unit, quantity in parts:
        sums[what, unit] = sums.get((what, unit), Decimal(0)) + exact(quantity)
    return sums


def _costs(lines: Iterable[Line]) -> dict[tuple[str, str], Decimal]:
    return {(_thing(line), _unit(line)): line.cost for line in lines if line.kind in ("material", "labour")}


def _thing(line: Line) -> str:
    return f"{line.description} from {line.supplier_name}" if line.supplier_name else line.description


def _unit(line: Line) -> str:
    return line.unit if line.pack_size is None else f"pack of {line.pack_size.normalize():f} {line.unit}"
