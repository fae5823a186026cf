"""Why a figure of a quote is what it is: the tree from which it came."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from sqlalchemy.orm import Session

from service.quoting.explanation.accepted import add_part, add_whole, option_name
from service.quoting.explanation.facts import Facts, Option, Part, facts_of
from service.quoting.explanation.figures import Figures
from service.quoting.explanation.lines import add_lines
from service.quoting.explanation.node import Node
from service.quoting.explanation.purchase import add_purchase
from service.quoting.explanation.quantities import add_quantities
from service.quoting.explanation.rooms import add_rooms
from service.quoting.explanation.schedule import add_schedule
from service.quoting.explanation.totals import add_totals
from service.quoting.explanation.us_units import add_us_units
from service.quoting.explanation.work import add_work
from service.quoting.quotes import StoredQuote

__all__ = ["Explanation", "Facts", "Node", "explain", "figures_of"]


@dataclass(frozen=True, slots=True)
class Explanation:
    """A figure's tree, and the pointers of all figures that can be asked for."""

    tree: Node
    figures: tuple[str, ...]


def explain(session: Session, quote: StoredQuote, figure: str | None = None) -> Explanation:
    """Explain a figure of the quote's answer, gross where none is named; of a refused floor its hours.

    UnknownFigure for a figure that is none of the explained ones.
    """
    figures = figures_of(facts_of(session, quote))
    usual = "/labour_hours/total" if quote.priced is None else "/totals/gross"
    return Explanation(figures[figure or usual], figures.known)


def figures_of(facts: Facts) -> Figures:
    """All that can be explained of these facts."""
    figures = _filled(Figures(facts))
    if isinstance(facts.accepted, Part):
        add_part(figures, facts.accepted)
    elif isinstance(facts.accepted, Option):
        add_whole(figures, _filled(Figures(facts.accepted.facts, partial(option_name, facts.accepted.place))))
    elif facts.accepted:
        add_whole(figures, figures)
    return figures


def _filled(figures: Figures) -> Figures:
    """With the figures of an offer."""
    facts = figures.facts
    add_rooms(figures)
    add_quantities(figures)
    add_work(figures)
    add_schedule(figures)
    if facts.totals is not None:
        add_lines(figures)
        add_totals(figures, facts.totals)
        add_purchase(figures)
    if facts.us_units:
        add_us_units(figures)
    return figures
