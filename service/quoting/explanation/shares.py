"""Contingency, uplifts and discount: of sums and shared out to the lines, or of each line."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from service.pricing.lines import DAY_WORK
from service.pricing.model import Line
from service.pricing.money import apportion, to_minor
from service.pricing.terms import rate_of_group
from service.quoting.explanation.figures import ZERO, Figures
from service.quoting.explanation.node import Node, said

Rate = Callable[[str], Node]
"""What a percentage of the figure of this name is."""


def add_shares(figures: Figures) -> None:
    """What each line bears of contingency and uplift, and what it is let off by discount."""
    lines, terms = figures.facts.priced_lines, figures.facts.terms
    source = figures.facts.terms_source

    def contingency(of: str) -> Node:
        return figures.percent("contingency", terms.contingency_percent, source, of)

    def discount(of: str) -> Node:
        return figures.percent("discount", terms.discount_percent, source, of)

    _add(figures, "contingency", "/totals/contingency", "#/cost", "/lines/{}/amount", lines, contingency)
    for place in lines:
        made_of = (f"/lines/{place}/amount", f"#/lines/{place}/contingency")
        name = f"{figures.facts.lines[place].description}, with contingency"
        figures.add(f"#/lines/{place}/held", figures.sum, name, "cost and contingency", *made_of)
    _add_uplifts(figures)
    _add(figures, "discount", "/totals/discount", "#/asked", "/lines/{}/price", lines, discount)


def _add(
    figures: Figures, key: str, total: str, base: str, bases: str, lines: Sequence[int], rate: Rate
) -> None:
    """`total`, and its parts by line under `key`."""
    parts, of = [f"#/lines/{p}/{key}" for p in lines], [bases.format(p) for p in lines]
    if figures.facts.by_line:
        figures.add(total, figures.sum, key, "of all lines", *parts)
        for part, one in zip(parts, of, strict=True):
            figures.add(part, rate, one)
        return
    weights = f"#/weights/{total.strip('#/')}"
    figures.add(total, rate, base)
    add_weights(figures, weights, *of)
    for place, part in enumerate(parts):
        figures.add(part, shared_out, figures, total, weights, place)


def add_weights(figures: Figures, name: str, *of: str) -> None:
    """A list of figures that something is shared out by."""
    figures.add(name, lambda: Node("weights", ZERO, "", "list", "in this order", figures.all(*of)))


def shared_out(figures: Figures, total: str, weights: str, place: int) -> Node:
    """The part that one of the weights gets."""
    whole, by = figures[total], figures[weights]
    shares = apportion(whole.value, [part.value for part in by.parts], figures.facts.minor.step)
    words = f"its part of {whole.name}, in proportion to {by.parts[place].name}"
    node = figures.money(f"part of {whole.name}", shares[place], "share", words, whole, by)
    return replace(node, place=place)


def _add_uplifts(figures: Figures) -> None:
    facts = figures.facts
    groups = dict.fromkeys(facts.lines[place].group for place in facts.priced_lines)
    for group in groups:
        lines = [place for place in facts.priced_lines if facts.lines[place].group == group]
        whole = f"#/groups/{group}/held"
        held = [f"#/lines/{place}/held" for place in lines]
        figures.add(whole, figures.sum, f"{group} with contingency", "its lines", *held)
        if group == DAY_WORK or (group == "labour" and facts.terms.hourly_charge is not None):
            _add_charges(figures, group, lines)
            continue
        rate = _uplift_of(figures, group)
        _add(figures, "uplift", f"#/groups/{group}/uplift", whole, "#/lines/{}/held", lines, rate)
    uplifts = [f"#/groups/{group}/uplift" for group in groups]
    figures.add("/totals/markup", figures.sum, "markup", "the uplifts of all groups", *uplifts)


def _add_charges(figures: Figures, group: str, lines: Sequence[int]) -> None:
    """The uplift of hours that have a charge: what that is above, or below, cost and contingency."""
    for place in lines:
        held, charged = f"#/lines/{place}/held", f"#/lines/{place}/charged"
        figures.add(charged, _charged, figures, place)
        figures.add(f"#/lines/{place}/uplift", figures.less, "uplift", "charge less cost", charged, held)
    uplifts = [f"#/lines/{place}/uplift" for place in lines]
    figures.add(f"#/groups/{group}/uplift", figures.sum, "uplift", "of all work", *uplifts)


def _charged(figures: Figures, place: int) -> Node:
    facts, line = figures.facts, figures.facts.lines[place]
    hours = figures[f"/lines/{place}/quantity"]
    rate = _hourly(figures, line)
    value = to_minor(line.quantity * rate.value, facts.terms.rounding)
    return figures.money(
        f"{line.description}, as charged", value, "product", "hours times charge", hours, rate
    )


def _hourly(figures: Figures, line: Line) -> Node:
    """What an hour is charged at: day work by the rate that its line names."""
    facts = figures.facts
    if line.group == DAY_WORK:
        hourly = facts.terms.hourly_price(line.note)
        return said(f"rate for {line.note}", hourly, facts.currency, facts.terms_source)
    charge = facts.terms.hourly_charge or ZERO
    return said(
        "charge for an hour", charge, facts.currency, f"{facts.terms_source}, else {facts.labour_source}"
    )


def _uplift_of(figures: Figures, group: str) -> Rate:
    """The markup on cost, or the margin of the selling price, of a role group."""
    facts = figures.facts
    uplift = facts.terms.uplifts.get(group, facts.terms.uplifts.get("default"))

    def markup(of: str) -> Node:
        return figures.percent(f"{group} uplift", uplift.percent if uplift else ZERO, facts.terms_source, of)

    def margin(of: str) -> Node:
        percent: Decimal = uplift.percent if uplift else ZERO
        base, rate = figures[of], rate_of_group(facts.terms, group)
        value = to_minor(Fraction(base.value) * rate, facts.terms.rounding)
        part = said("margin", percent, "percent", facts.terms_source)
        words = f"so much that {percent:f} percent of the price are margin"
        return figures.money(f"{group} uplift", value, "margin", words, base, part)

    return margin if uplift is not None and uplift.method == "margin" else markup
