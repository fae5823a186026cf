"""The same one quote after the other, where 64 bits would not do."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import numpy as np

from service.pricing.lines import plain_line
from service.pricing.many.totals import KINDS, ManyLines, ManyTotals
from service.pricing.model import Line, Terms, Totals
from service.pricing.money import minor_unit
from service.pricing.totals import total

LISTS = ("taxes", "stages")


def total_each(lines: ManyLines, terms: Terms) -> ManyTotals:
    """What `total_many` gives."""
    ends = np.cumsum(lines.quotes)
    done = [
        total([_line(lines, i, terms) for i in range(end - count, end)], terms)
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


def _line(lines: ManyLines, place: int, terms: Terms) -> Line:
    amount = int(lines.amounts[place]) * minor_unit(terms.rounding)
    kind = KINDS[lines.kinds[place]]
    line = plain_line(kind, "", "", "sum", Decimal(1), amount, terms.rounding)  # type: ignore[arg-type]
    return replace(line, group=lines.names[lines.groups[place]])


def _minor(values: list[Decimal], unit: Decimal) -> np.ndarray[tuple[int, ...], np.dtype[np.int64]]:
    return np.array([int(value / unit) for value in values], np.int64)
