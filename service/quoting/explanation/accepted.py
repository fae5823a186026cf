"""What was accepted: each line at its share of the offer, the taxes on it, and what the share comes from.

The offer's figures keep their names; those of the rooms taken off alone, or of the option, begin with #.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

from service.pricing.model import Totals
from service.quoting.explanation.facts import Part
from service.quoting.explanation.figures import ZERO, Figures
from service.quoting.explanation.node import Node, Step, said
from service.quoting.explanation.quantities import add_quantities
from service.quoting.explanation.rooms import add_rooms
from service.quoting.explanation.totals import add_taxes
from service.quoting.explanation.work import add_work
from service.quoting.quotes.part import PERCENT_STEP, Taken, places_of

TOLD = {"/totals/net": "/acceptance/net", "/totals/tax": "/acceptance/tax"}
RULE = "how a part of an offer is reckoned"


def add_whole(figures: Figures, offered: Figures) -> None:
    """The acceptance of all that is offered, by the quote itself or by one of its options."""
    for name in ("net", "tax", "gross"):
        figures.add(f"/acceptance/{name}", _as_offered, offered, name)


def add_part(figures: Figures, part: Part) -> None:
    """The acceptance of some rooms."""
    ours = Figures(part.facts, _part_name)
    for add in (add_rooms, add_quantities, add_work):
        add(ours)
    for place, taken in enumerate(part.taken):
        here = f"/acceptance/lines/{place}"
        figures.add(f"#{here}/share", _share, figures, ours, part, taken)
        figures.add(f"{here}/share_percent", _percent, figures, here)
        figures.add(f"{here}/price", _price, figures, here, taken, part.facts.lines[place].price)
        ours.add(f"/lines/{place}/price", figures.__getitem__, f"{here}/price")
        ours.add(f"#/lines/{place}/discount", _no_discount, figures)
    if part.facts.totals is not None:
        _add_money(figures, ours, part.facts.totals)


def option_name(place: int, figure: str) -> str:
    """How a figure of an option is told beside those of the quote."""
    return f"#/options/{place}/{figure.removeprefix('/')}"


def _part_name(figure: str) -> str:
    return TOLD.get(figure, f"#/acceptance/alone/{figure.removeprefix('/')}")


def _as_offered(source: Figures, name: str) -> Node:
    offered = source[f"/totals/{name}"]
    words = "all of it was accepted as offered"
    return Node(f"{name} accepted", offered.value, offered.unit, "round", words, (offered,))


def _add_money(figures: Figures, ours: Figures, totals: Totals) -> None:
    """Net, the taxes on it, and gross."""
    prices = [f"/acceptance/lines/{place}/price" for place in range(len(ours.facts.lines))]
    figures.add("/acceptance/net", figures.sum, "net accepted", "the prices of all lines taken", *prices)
    ours.add("/totals/net", figures.__getitem__, "/acceptance/net")
    add_taxes(ours, totals)
    figures.add("/acceptance/tax", ours.__getitem__, "/totals/tax")
    both = ("/acceptance/net", "/acceptance/tax")
    figures.add("/acceptance/gross", figures.sum, "gross accepted", "net and tax", *both)


def _no_discount(figures: Figures) -> Node:
    words = "the discount is taken as a line of its own"
    return said("discount", ZERO, figures.facts.currency, RULE, words)


def _price(figures: Figures, here: str, taken: Taken, price: Decimal) -> Node:
    share, offered = figures.all(f"#{here}/share", f"/lines/{taken.position - 1}/price")
    words = "its share of the price in the offer"
    return figures.money(f"{taken.line.description}, accepted", price, "product", words, share, offered)


def _percent(figures: Figures, here: str) -> Node:
    share = figures[f"#{here}/share"]
    hundred = said("percent in all", Decimal(100), "percent", RULE, "by definition")
    value, steps = (share.value * 100).quantize(PERCENT_STEP), (Step(PERCENT_STEP, "half_even"),)
    return Node("share accepted", value, "percent", "product", "of the line", (share, hundred), steps=steps)


def _share(figures: Figures, ours: Figures, part: Part, taken: Taken) -> Node:
    """Of a line that only the rooms need, or that does not shrink with them, all."""
    if taken.line.kind == "adjustment":
        return _of_all(figures, part)
    if not taken.measured:
        words = "it is taken whole" if taken.shared else "no room that was left out needs of it"
        return said("share", Decimal(1), "1", RULE, words)
    alone, of_all = _needed(ours, taken, "the rooms taken alone"), _needed(figures, taken, "all rooms")
    return _at_most_all(_quotient("share", "what the rooms need alone over what all need", alone, of_all))


def _needed(figures: Figures, taken: Taken, whose: str) -> Node:
    """What a take-off needs of the line."""
    figure = "/labour/{}/hours" if taken.line.kind == "labour" else "/materials/{}/with_allowance"
    places = places_of(taken.line, figures.facts.takeoff)
    parts = figures.all(*(figure.format(place) for place in places))
    unit, name = parts[0].unit if parts else "1", f"{taken.line.description}: needed by {whose}"
    return Node(name, _added(parts), unit, "sum", "all of the line's kind", parts)


def _of_all(figures: Figures, part: Part) -> Node:
    """What changes the sum is shared as all other lines together are."""
    bare = [(n, one) for n, one in enumerate(part.taken) if one.line.kind != "adjustment"]
    shared = tuple(_bare(figures, place, one) for place, one in bare)
    offered = figures.all(*(f"/lines/{place}/price" for place in figures.facts.priced_lines))
    currency = figures.facts.currency
    ours = Node("prices taken", _added(shared), currency, "sum", "of all lines, not rounded", shared)
    all_ = Node("prices offered", _added(offered), currency, "sum", "of all lines", offered)
    return _quotient("share", "prices taken over prices offered", ours, all_)


def _bare(figures: Figures, place: int, one: Taken) -> Node:
    parts = figures.all(f"#/acceptance/lines/{place}/share", f"/lines/{one.position - 1}/price")
    value = parts[0].value * parts[1].value
    return Node(one.line.description, value, figures.facts.currency, "product", "its share", parts)


def _quotient(name: str, words: str, first: Node, second: Node) -> Node:
    value = Fraction(first.value) / Fraction(second.value or 1)
    told = Decimal(value.numerator) / Decimal(value.denominator)
    return Node(name, told, "1", "quotient", words, (first, second))


def _at_most_all(share: Node) -> Node:
    """The rooms alone may need more than beside the others, whose offcuts and waits they share."""
    if share.value <= 1:
        return share
    all_ = said("all", Decimal(1), "1", RULE, "no more than the line is taken")
    return Node("share", Decimal(1), "1", "least", "at most all of the line", (share, all_))


def _added(parts: Sequence[Node]) -> Decimal:
    return sum((part.value for part in parts), ZERO)
