"""What the quotes of a part come to at the run's prices: arrays in, one row of figures a quote out."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any
from uuid import UUID

import numpy as np
from numpy.typing import NDArray

from service.pricing.lines import DAY_WORK
from service.pricing.many import Ints, ManyLines, ManyTotals, TooLarge, total_each, total_many
from service.pricing.model import Notice, Terms
from service.pricing.terms import GROUPS
from service.quoting.repricing.choosing import Chosen
from service.quoting.snapshot import to_json
from service.store.ids import new_id
from service.store.repricing.part import TOTALS
from service.store.repricing.sql.tables import SUMS

NAMES = ("", *sorted({*GROUPS.values(), "labour", "other", DAY_WORK}))
"""Groups by their number; what is of no known group has the default uplift."""
COST = ("materials", "delivery", "labour")
COMPARED = (*COST, "net", "tax", "gross")


@dataclass(frozen=True, slots=True)
class Limits:
    """Only changes of the total by so much count; None asks nothing, of two one is enough."""

    percent: Decimal | None = None
    amount: Decimal | None = None

    def passes(self, old: Decimal, new: Decimal) -> bool:
        moved = abs(new - old)
        asked = [
            bound <= moved
            for bound in (self.amount, None if self.percent is None else self.percent * abs(old) / 100)
            if bound is not None
        ]
        return any(asked) if asked else True


class Figures:
    """The quotes of a part at new prices. `found` are their rows by number, `lines` their lines at cost,
    `chosen` the baskets that were made anew for some."""

    def __init__(
        self,
        found: Sequence[Mapping[str, Any]],
        lines: NDArray[Any],
        terms: Mapping[UUID, Terms],
        notices: Mapping[int, Sequence[Notice]],
        chosen: Chosen,
    ) -> None:
        self._terms, self._notices, self._chosen = terms, notices, chosen
        numbers, begins, counts = np.unique(lines["n"], return_index=True, return_counts=True)
        self._begins, self._counts = begins, counts
        self._rows = [found[n] for n in numbers]
        self._lines = {name: lines[name].astype(np.int64) for name in lines.dtype.names or ()}
        moved = self._lines["moved"]
        self._moved = np.maximum.reduceat(moved, begins) > 0 if len(numbers) else moved > 0
        self.prices = np.zeros(len(lines), np.int64)
        self._sums = {name: np.zeros(len(numbers), np.int64) for name in SUMS}
        self._at_old_terms = {name: np.zeros(len(numbers), np.int64) for name in ("net", "tax")}
        self._rest: list[str] = [""] * len(numbers)
        for key, places in _grouped(self._rows).items():
            self._reckon(key, np.array(places))

    @property
    def positions(self) -> Ints:
        """Of each line in its quote, from 1."""
        return np.arange(len(self.prices)) - np.repeat(self._begins, self._counts) + 1

    def changed(self, limits: Limits, revises: bool) -> Iterator[tuple[bool, tuple[Any, ...]]]:
        """Of each quote whose figures move: whether the limits let it pass, and its row for the database."""
        for place, row in enumerate(self._rows):
            unit = Decimal(1).scaleb(-row["minor"])
            new = {name: int(values[place]) for name, values in self._sums.items()}
            old = {name: int(row[name] / unit) for name in COMPARED}
            if self._moved[place] or any(new[name] != old[name] for name in COMPARED):
                passes = limits.passes(row["gross"], new["gross"] * unit)
                yield passes, self._told(place, row, old, new, revises)

    def _told(
        self,
        place: int,
        row: Mapping[str, Any],
        old: Mapping[str, int],
        new: Mapping[str, int],
        revises: bool,
    ) -> tuple[Any, ...]:
        """What follows on cost at the terms of before, then what other terms and other taxes add."""
        net, tax = (int(self._at_old_terms[name][place]) for name in ("net", "tax"))
        beyond = (net + tax - _cost(new)) - (old["gross"] - _cost(old))
        basket = -self._chosen.saved.get(row["n"], 0)
        causes = {"on_cost": beyond, "terms": new["net"] - net, "taxes": new["tax"] - tax, "basket": basket}
        told = {
            "n": row["n"],
            "event_id": new_id(),
            "other_event_id": new_id(),
            "revise": revises and row["state"] != "accepted",
            "rest": self._rest[place],
            **causes,
            **new,
        }
        return tuple(told[name] for name in TOTALS)

    def _reckon(self, key: tuple[UUID, UUID, bool], places: NDArray[np.intp]) -> None:
        """The quotes that are priced by the same conditions before and after."""
        old_id, new_id, other_terms = key
        own = np.concatenate(
            [np.arange(b, b + c) for b, c in zip(self._begins[places], self._counts[places], strict=True)]
        )
        lines = ManyLines(
            quotes=self._counts[places],
            kinds=self._lines["kind"][own],
            groups=self._lines["group"][own],
            amounts=self._lines["amount"][own],
            charged=self._lines["charged"][own],
            names=NAMES,
        )
        terms = self._terms[new_id]
        totals = before = _total(lines, terms)
        if other_terms:
            before = _total(replace(lines, charged=self._lines["old_charged"][own]), self._terms[old_id])
        self.prices[own] = totals.prices
        for name in SUMS:
            self._sums[name][places] = totals.sums[name]
        for name, values in self._at_old_terms.items():
            values[places] = before.sums[name]
        for i, place in enumerate(places):
            self._rest[place] = json.dumps(self._rest_of(totals, terms, i, self._rows[place]["n"]))

    def _rest_of(self, totals: ManyTotals, terms: Terms, i: int, n: int) -> dict[str, Any]:
        unit = Decimal(1).scaleb(-terms.rounding.minor)
        rest = {
            "taxes": [
                _tax(rule, terms, int(base[i]) * unit, int(amount[i]) * unit)
                for rule, (base, amount) in zip(terms.taxes, totals.taxes, strict=True)
            ],
            "stages": [
                {"name": stage.name, "amount": str(int(amounts[i]) * unit)}
                for stage, amounts in zip(terms.stages, totals.stages, strict=True)
            ],
            **self._chosen.rest(n),
            "notices": to_json([*self._notices.get(n, ()), *self._chosen.notices(n)]),
        }
        return {name: value for name, value in rest.items() if value}


def _grouped(rows: Sequence[Mapping[str, Any]]) -> dict[tuple[UUID, UUID, bool], list[int]]:
    groups: dict[tuple[UUID, UUID, bool], list[int]] = {}
    for place, row in enumerate(rows):
        key = row["old_conditions"], row["new_conditions"], row["other_terms"]
        groups.setdefault(key, []).append(place)
    return groups


def _total(lines: ManyLines, terms: Terms) -> ManyTotals:
    try:
        return total_many(lines, terms)
    except TooLarge:
        return total_each(lines, terms)


def _tax(rule: Any, terms: Terms, base: Decimal, amount: Decimal) -> dict[str, Any]:
    """A TaxLine as stored; under reverse charge the buyer accounts for it."""
    reverse = terms.reverses(rule)
    return {
        "name": rule.name,
        "percent": "0" if reverse else str(rule.percent),
        "base": str(base),
        "amount": "0" if reverse else str(amount),
        "reverse_charge": reverse,
    }


def _cost(sums: Mapping[str, int]) -> int:
    return sum(sums[name] for name in COST)
