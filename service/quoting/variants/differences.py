"""What tells one variant from the first, each difference in full."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from service.pricing.model import Line, Priced, Totals
from service.takeoff.answer import Takeoff

ZERO = Decimal(0)
CAUSES = (
    *("materials", "delivery", "labour", "contingency", "markup"),
    *("discount", "minimum_charge", "rounding", "tax"),
)
"""The parts that gross is the sum of, discount counting against it."""


@dataclass(frozen=True, slots=True)
class Difference:
    """How much more a variant costs the customer than the first, twice in parts that add up.

    `causes` are parts of the totals and add up to the difference of gross; `groups` are prices by group of
    lines and add up to that of net.
    """

    net: Decimal
    gross: Decimal
    causes: Mapping[str, Decimal]
    groups: Mapping[str, Decimal]
    labour_hours: float


Floor = tuple[Takeoff, Priced | None]
"""A take-off with its price, None for one that must not be built so."""


def difference(variant: Floor, first: Floor) -> Difference | None:
    """None where either floor has no price."""
    (takeoff, ours), (before, theirs) = variant, first
    if ours is None or theirs is None or ours.totals is None or theirs.totals is None:
        return None
    hours = takeoff.labour_hours.total - before.labour_hours.total
    return Difference(
        net=ours.totals.net - theirs.totals.net,
        gross=ours.totals.gross - theirs.totals.gross,
        causes={name: _cause(ours.totals, name) - _cause(theirs.totals, name) for name in CAUSES},
        groups=_less(groups_of(ours), groups_of(theirs)),
        labour_hours=hours,
    )


def groups_of(priced: Priced) -> dict[str, Decimal]:
    """What the customer pays for each group of lines; discount, minimum charge and rounding by their name."""
    prices: dict[str, Decimal] = {}
    for line in priced.lines:
        prices[_group(line)] = prices.get(_group(line), ZERO) + line.price
    return prices


def _group(line: Line) -> str:
    return line.role if line.kind == "adjustment" else line.group


def _cause(totals: Totals, name: str) -> Decimal:
    value: Decimal = getattr(totals, name)
    return -value if name == "discount" else value


def _less(ours: Mapping[str, Decimal], theirs: Mapping[str, Decimal]) -> dict[str, Decimal]:
    return {name: ours.get(name, ZERO) - theirs.get(name, ZERO) for name in dict.fromkeys((*ours, *theirs))}
