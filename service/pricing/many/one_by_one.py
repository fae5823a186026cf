"""The same one quote after the other, where 64 bits would not do."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import numpy as np

from service.pricing.lines import DAY_WORK, plain_line
from service.pricing.many.arrays import Ints
from service.pricing.many.totals import KINDS, UNCHARGED, ManyLines, ManyTotals
from service.pricing.model import DayWork, Line, Terms, Totals
from service.pricing.money import minor_unit
from service.pricing.totals import total

LISTS = ("taxes", "stages")


def total_each(lines: ManyLines, terms: Terms) -> ManyTotals:
    """What `total_many` gives."""
    ends = np.cumsum(lines.quotes)
    done = [
        _total(
            [_line(lines, i, terms) for i in range(end - count, end)], lines.charged[end - count : end], terms
        )
        for count, end in zip(lines.quotes, ends, strict=True)
    ]
    unit = minor_unit(terms.rounding)
    totals = [sums for _, sums in done]
    prices = [
        priced.price for (own, _), count in zip(done, lines.quotes, strict=True) for priced in own[:count]
    ]
    names = [name for name in Totals.__slots__ if name not in LISTS]
    return ManyTotals(
        prices=_minor(prices, unit),
        sums={name: _minor([getattr(one, name) for one in totals], unit) for name in names},
        taxes=tuple(
            (
                _minor([t.taxes[i].base for t in totals], unit),
                _minor([t.taxes[i].amount for t in totals], unit),
            )
            for i in range(len(terms.taxes))
        ),
        stages=tuple(_minor([t.stages[i].amount for t in totals], unit) for i in range(len(terms.stages))),
    )


def _total(lines: list[Line], charged: Ints, terms: Terms) -> tuple[tuple[Line, ...], Totals]:
    """What has a price already is day work of one hour, at a rate of its own."""
    unit = minor_unit(terms.rounding)
    rates = {i: DayWork(str(i), int(price) * unit) for i, price in enumerate(charged) if price != UNCHARGED}
    worked = [
        replace(line, group=DAY_WORK, note=rates[i].name) if i in rates else line
        for i, line in enumerate(lines)
    ]
    return total(worked, replace(terms, day_work=tuple(rates.values())))


def _line(lines: ManyLines, place: int, terms: Terms) -> Line:
    amount = int(lines.amounts[place]) * minor_unit(terms.rounding)
    kind = KINDS[lines.kinds[place]]
    line = plain_line(kind, "", "", "sum", Decimal(1), amount, terms.rounding)  # type: ignore[arg-type]
    return replace(line, group=lines.names[lines.groups[place]])


def _minor(values: list[Decimal], unit: Decimal) -> np.ndarray[tuple[int, ...], np.dtype[np.int64]]:
    return np.array([int(value / unit) for value in values], np.int64)
