"""Baskets made anew for the quotes of a part, and taken where they save enough."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy.orm import Session

from service.pricing.goods import Goods
from service.pricing.model import Notice
from service.quoting.quotes.kept import line_row
from service.quoting.repricing.baskets import Baskets, Wanted, wanted
from service.quoting.repricing.conditions import terms_by_id
from service.quoting.snapshot import to_json
from service.quoting.variants.shop import bearing
from service.store.repricing import part as store

KEPT = Notice("products_kept", "products and suppliers were kept at new prices: others may cost less by now")
WEIGHED = Notice(
    "products_kept", "products and suppliers were kept: a basket made anew saves no more than was asked for"
)


@dataclass(frozen=True, slots=True)
class Chosen:
    """By number of the quote: what it buys now, and by how many minor units that costs less, with delivery,
    than what it held. `told` goes with what is bought anew, `kept` with all others."""

    kept: Notice
    told: tuple[Notice, ...] = ()
    taken: Mapping[int, Goods] = field(default_factory=dict)
    saved: Mapping[int, int] = field(default_factory=dict)

    def rest(self, n: int) -> Mapping[str, Any]:
        """What is stored beside lines and totals."""
        return {"basket": to_json(self.taken[n].basket)} if n in self.taken else {}

    def notices(self, n: int) -> Sequence[Notice]:
        return self.told if n in self.taken else (self.kept,)


NONE = Chosen(KEPT)
"""Of a run that keeps products and suppliers."""


def choose(session: Session, asked: store.Asked) -> Chosen:
    """Make baskets and put the lines of those that are taken in the place of the old ones.

    One is taken where it costs less by more than the run's threshold, and where something is no longer sold
    as it was bought; a quote for which none can be made then is put down as one that cannot be repriced.
    """
    found = store.needs(session, asked)
    if not found:
        return Chosen(WEIGHED)
    terms = terms_by_id(session, {row["new_conditions"] for row in found})
    bearings = {id_: bearing(some) for id_, some in terms.items()}
    by_quote = {row["n"]: wanted(row, terms, bearings, asked.today) for row in found}
    of_bearing = {bearings[id_]: some for id_, some in terms.items()}
    baskets = Baskets(session, asked.run, by_quote.values(), of_bearing)
    offered = {n: baskets.of(want) for n, want in by_quote.items()}
    saved = {row["n"]: _saved(row, offered[row["n"]]) for row in found if not offered[row["n"]].gaps}
    lacking = {row["n"] for row in found if row["lacking"]}
    enough = {row["n"]: asked.run.threshold.scaleb(row["minor"]) for row in found}
    taken = {n: offered[n] for n, less in saved.items() if n in lacking or less > enough[n]}
    store.leave(session, {n: offered[n].gaps[0].message for n in lacking - set(taken)})
    if taken:
        _put(session, {n: by_quote[n] for n in taken}, baskets)
    return Chosen(WEIGHED, baskets.notices, taken, {n: saved[n] for n in taken})


def _saved(row: Mapping[str, Any], bought: Goods) -> int:
    """In minor units, goods with their delivery."""
    cost = sum(int(line.amount.scaleb(row["minor"])) for line in bought.lines)
    return int(row["cost"]) - cost


def _put(session: Session, taken: Mapping[int, Wanted], baskets: Baskets) -> None:
    numbers = {want: number for number, want in enumerate(dict.fromkeys(taken.values()))}
    lines = {number: [line_row(line) for line in baskets.of(want).lines] for want, number in numbers.items()}
    store.take(session, lines, {n: numbers[want] for n, want in taken.items()})
