"""From work to hours: the rates of the organisation's table, the least a job is charged with, the sums."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import ROUND_HALF_UP, Decimal
from math import ceil, fsum
from typing import Any

from service.takeoff.answer import Driver, LabourHours, LabourLine, Work
from service.takeoff.errors import InputError
from service.takeoff.factors import Factor, LabourPart
from service.takeoff.rates import LabourRate, LabourTable
from service.trade.values import TradeValues

STEP = 100
"""Parts of an hour that each activity is rounded to, once: what is printed, summed and billed is the same."""
NOISE = 1e-6  # of a part, which does not begin another


def labour_lines(work: Iterable[Work], table: LabourTable) -> tuple[LabourLine, ...]:
    """One line for each activity, in the order of its first work.

    `quantity` is the real quantity over all rooms, `rate` the hours per unit with the factors of the work in
    it (their mean, weighted by quantity), `hours` = quantity x rate to the hundredth of an hour; `parts` tell
    which quantity has which rate and factors.
    Raises InputError with the pointer "/labour_rates/<activity>" where the table has no rate, or one in
    another unit.
    """
    by_activity: dict[str, list[Work]] = {}
    for each in work:
        if each.quantity > 0:
            by_activity.setdefault(each.activity, []).append(each)
    return tuple(_line(same, table) for same in by_activity.values())


def hours_of(work: Iterable[Work], table: LabourTable) -> float:
    """The crew-member hours of all this work together."""
    return _sum(line.hours for line in labour_lines(work, table))


def up_to_minimum(lines: Sequence[LabourLine], table: LabourTable) -> tuple[LabourLine, ...]:
    """The lines, with one more where a job takes less than the least that the table charges."""
    parts = ceil(table.minimum_hours * STEP - NOISE) - sum(_parts(line.hours) for line in lines)
    if parts <= 0:
        return tuple(lines)
    missing = parts / STEP
    return (*lines, LabourLine("minimum_callout", "fixed", missing, "h", 1.0, missing, missing))


def sums(lines: Sequence[LabourLine]) -> LabourHours:
    """Total hours and hours by driver, each the exact decimal sum of its lines."""
    by_driver: dict[Driver, list[float]] = {}
    for line in lines:
        by_driver.setdefault(line.driver, []).append(line.hours)
    return LabourHours(
        total=_sum(line.hours for line in lines),
        by_driver=tuple((driver, _sum(hours)) for driver, hours in by_driver.items()),
    )


def default_labour_table(values: TradeValues, *, id: str, currency: str) -> LabourTable:  # noqa: A002
    """The table that a new organisation begins with, from the trade's values; it is theirs to change."""
    return LabourTable(
        id=id,
        name="Opening rates",
        rates=tuple(_default_rate(row, values) for row in values.table("labour.activities")),
        crew=int(values.number("labour.crew")),
        productive_hours_per_day=values.number("labour.productive_hours"),
        minimum_hours=values.number("labour.minimum_hours"),
        hourly_cost=Decimal(str(values["labour.hourly_cost"].value)),
        currency=currency,
    )


def _line(work: Sequence[Work], table: LabourTable) -> LabourLine:
    first = work[0]
    parts = _parts_of(work, table)
    quantity, exact = fsum(each.quantity for each in work), fsum(part.hours for part in parts)
    return LabourLine(
        activity=first.activity,
        driver=first.driver,
        quantity=quantity,
        unit=first.unit,
        rate=exact / quantity,
        hours=_parts(exact) / STEP,
        base_hours=_parts(fsum(part.quantity * part.hours_per_unit for part in parts)) / STEP,
        parts=parts,
        reasons=tuple(dict.fromkeys(each.reason for each in work if each.reason)),
    )


def _parts_of(work: Sequence[Work], table: LabourTable) -> tuple[LabourPart, ...]:
    """The work by its rate and factors, in the order of its first."""
    quantities: dict[tuple[LabourRate, tuple[Factor, ...]], list[float]] = {}
    for each in work:
        quantities.setdefault(_rate(each, table), []).append(each.quantity)
    return tuple(
        LabourPart(rate.activity, fsum(found), rate.hours, factors)
        for (rate, factors), found in quantities.items()
    )


def _rate(work: Work, table: LabourTable) -> tuple[LabourRate, tuple[Factor, ...]]:
    """The rate of the first circumstance that has one of its own, else of the activity; the other factors."""
    own = (each for each in work.factors if each.of and f"{work.activity}:{each.of}" in table.by_activity)
    named = next(own, None)
    rate = table.by_activity.get(f"{work.activity}:{named.of}" if named else work.activity)
    where = f"/labour_rates/{work.activity}"
    if rate is None:
        raise InputError(where, f"the labour table has no rate for {work.activity}, per {work.unit}")
    if rate.unit != work.unit:
        raise InputError(where, f"the rate is per {rate.unit}, the work is counted per {work.unit}")
    return rate, tuple(each for each in work.factors if each is not named and each.factor != 1.0)


def _sum(hours: Iterable[float]) -> float:
    return sum(map(_parts, hours)) / STEP


def _parts(hours: float) -> int:
    """Whole hundredths of an hour, halves upwards; the noise of binary fractions is no part of them."""
    return int((Decimal(repr(round(hours, 9))) * STEP).to_integral_value(ROUND_HALF_UP))


def _default_rate(row: dict[str, Any], values: TradeValues) -> LabourRate:
    activity = row["activity"]
    return LabourRate(activity, row["driver"], row["unit"], values.number(f"labour.hours.{activity}"))
