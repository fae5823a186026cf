"""Rebuilds figures from an explanation alone: it knows the operations by name, and nothing of pricing."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import ceil, floor, prod
from typing import Any

Told = dict[str, Any]


def rebuilt(tree: Told) -> dict[str, Fraction]:
    """Every figure of a tree, reckoned from its leaves."""
    full = {node["figure"]: node for node in nodes(tree) if "figure" in node and "formula" in node}
    known: dict[str, Fraction] = {}
    for figure in full:
        evaluate({"figure": figure}, full, known)
    return known


def nodes(tree: Told) -> Iterator[Told]:
    yield tree
    for part in tree.get("parts", ()):
        yield from nodes(part)


def evaluate(node: Told, full: dict[str, Told], known: dict[str, Fraction]) -> Fraction:
    figure = node.get("figure")
    if figure is None:
        return value_of(node, full, known)
    if figure not in known:
        known[figure] = value_of(full[figure], full, known)
    return known[figure]


def value_of(node: Told, full: dict[str, Told], known: dict[str, Fraction]) -> Fraction:
    formula, steps = node["formula"], node["formula"].get("rounding", ())
    if formula["operation"] in ("input", "measured", "packs"):
        return Fraction(node["value"])
    values = [evaluate(part, full, known) for part in node["parts"]]
    if formula["operation"] == "list":
        return Fraction(0)
    if formula["operation"] == "share":
        listed = full[node["parts"][1]["figure"]]["parts"]
        weights = [evaluate(part, full, known) for part in listed]
        return shares(values[0], weights, Fraction(steps[0]["step"]))[formula["place"]]
    value = combined(formula["operation"], values)
    for step in steps:
        value = to_step(value, Fraction(step["step"]), step["method"])
    return value


def combined(operation: str, values: list[Fraction]) -> Fraction:
    first, others = (values or [Fraction(0)])[0], values[1:]
    return {
        "sum": lambda: sum(values, Fraction(0)),
        "difference": lambda: first - sum(others),
        "product": lambda: prod(values, start=Fraction(1)),
        "negative": lambda: -first,
        "percent": lambda: first * others[0] / 100,
        "margin": lambda: first * others[0] / (100 - others[0]),
        "missing": lambda: max(Fraction(0), first - sum(others)),
        "round": lambda: first,
        "whole": lambda: Fraction(ceil(first / others[0])),
        "quotient": lambda: first / others[0],
        "least": lambda: min(values),
    }[operation]()


def to_step(value: Fraction, step: Fraction, method: str) -> Fraction:
    sign, counted = (-1 if value < 0 else 1), abs(value) / step
    below = floor(counted)
    rest = counted - below
    up = rest > Fraction(1, 2) or (rest == Fraction(1, 2) and (method == "half_up" or below % 2 == 1))
    return sign * (below + up) * step


def shares(total: Fraction, weights: list[Fraction], step: Fraction) -> list[Fraction]:
    """Largest remainders (Hamilton's method)."""
    if not any(weights):
        return [total, *[Fraction(0)] * (len(weights) - 1)]
    quotas = [total / step * weight / sum(weights) for weight in weights]
    seats = [Fraction(floor(quota)) for quota in quotas]
    neediest = sorted(range(len(quotas)), key=lambda i: seats[i] - quotas[i])
    for i in neediest[: int(total / step - sum(seats))]:
        seats[i] += 1
    return [seat * step for seat in seats]
