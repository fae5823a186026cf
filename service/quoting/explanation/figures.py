"""The figures of a quote by their pointers, each explained the first time that it is asked for."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from functools import partial
from typing import Any

from service.pricing.money import percent_of, to_minor
from service.quoting.errors import QuotingError
from service.quoting.explanation.facts import Facts
from service.quoting.explanation.node import Node, Operation, said

ZERO = Decimal(0)


class UnknownFigure(QuotingError):
    """No figure of the quote that is explained has this pointer."""


class Figures:
    """Explanations of one quote; what figures come from are figures again."""

    def __init__(self, facts: Facts, named: Callable[[str], str] = str) -> None:
        """`named` tells a figure's pointer in the answer that is explained."""
        self.facts = facts
        self._named = named
        self._makers: dict[str, Callable[[], Node]] = {}
        self._made: dict[str, Node] = {}

    def add(self, figure: str, make: Callable[..., Node], *told: Any) -> None:
        """What explains a figure, with what is told to it."""
        self._makers[figure] = partial(make, *told)

    def __getitem__(self, figure: str) -> Node:
        if figure not in self._made:
            if figure not in self._makers:
                raise UnknownFigure(figure)
            self._made[figure] = replace(self._makers[figure](), figure=self._named(figure))
        return self._made[figure]

    def __contains__(self, figure: str) -> bool:
        return figure in self._makers

    def all(self, *figures: str) -> tuple[Node, ...]:
        return tuple(self[figure] for figure in figures)

    @property
    def known(self) -> tuple[str, ...]:
        """Pointers into the quote's answer that can be explained."""
        return tuple(figure for figure in self._makers if not figure.startswith("#"))

    def money(self, name: str, value: Decimal, operation: Operation, words: str, *parts: Node) -> Node:
        """An amount, in whole minor units."""
        return Node(name, value, self.facts.currency, operation, words, parts, steps=(self.facts.minor,))

    def sum(self, name: str, words: str, *figures: str) -> Node:
        parts = self.all(*figures)
        return self.money(name, sum((part.value for part in parts), ZERO), "sum", words, *parts)

    def less(self, name: str, words: str, first: str, *others: str) -> Node:
        parts = self.all(first, *others)
        value = parts[0].value - sum((part.value for part in parts[1:]), ZERO)
        return self.money(name, value, "difference", words, *parts)

    def percent(self, name: str, percent: Decimal, source: str, of: str) -> Node:
        """So many percent of a figure."""
        base = self[of]
        value = to_minor(percent_of(base.value, percent), self.facts.terms.rounding)
        rate = said(f"percent for {name}", percent, "percent", source)
        return self.money(name, value, "percent", f"{percent:f} percent of {base.name}", base, rate)
