"""How much of the difference between two revisions' totals each cause explains.

One thing after the other is taken from the later revision, in a fixed order, and the floor is taken off and
priced anew each time; what a step moves is its cause's part. The parts add up to the whole by construction.
Since offices go on editing price lists, the earlier revision may reckon otherwise today than it did: that too
is a part, of the cause `prices`. A step that cannot be priced is told together with the next that can.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from service.pricing.buying import Buying
from service.pricing.model import Exchange, Terms, Totals
from service.quoting.basis import Basis, Hours, day_work_by
from service.quoting.books import Books
from service.quoting.catalogue import UnknownReference
from service.quoting.errors import Unpriceable
from service.quoting.priced import price_takeoff
from service.quoting.quotes.stored import StoredQuote
from service.quoting.recompute import values_of
from service.quoting.snapshot import from_json
from service.takeoff import take_off
from service.takeoff.answer import Takeoff
from service.takeoff.errors import InputError
from service.takeoff.rates import LabourTable
from service.takeoff.room import Job
from service.trade.values import TradeValues

STEPS = ("inputs", "trade_values", "labour_rates", "prices", "buying", "terms")
"""The order of substitution: rooms and finishes, the trade's values, hours and their cost, then what is on
sale on the day, how the office asks to buy, then contingency, markup, discount, taxes and rounding."""


@dataclass(frozen=True, slots=True)
class Figure:
    net: Decimal
    gross: Decimal

    def since(self, before: Figure) -> Figure:
        return Figure(self.net - before.net, self.gross - before.gross)

    def plus(self, other: Figure) -> Figure:
        return Figure(self.net + other.net, self.gross + other.gross)


@dataclass(frozen=True, slots=True)
class Part:
    """What one cause, or several that cannot be told apart, add to the total."""

    causes: tuple[str, ...]
    moved: Figure


@dataclass(frozen=True, slots=True)
class Market:
    """The day whose price lists hold, and its exchange rates."""

    day: date
    exchange_rates: Mapping[str, Exchange]


@dataclass(frozen=True, slots=True)
class Purchase:
    """How it is bought: mode and limits, the days until the goods must be there, the lists for this job."""

    buying: Buying
    days_to_start: int | None
    job_offers: tuple[UUID, ...]


@dataclass(frozen=True, slots=True)
class Inputs:
    job: Job
    day_work: tuple[Hours, ...]


@dataclass(frozen=True, slots=True)
class Rests:
    """What a revision's figures rest on, one member a cause, in the order of STEPS."""

    inputs: Inputs
    trade_values: TradeValues
    labour_rates: LabourTable
    prices: Market
    buying: Purchase
    terms: Terms


def rests_of(quote: StoredQuote) -> Rests:
    basis = quote.basis
    return Rests(
        inputs=Inputs(quote.takeoff.job, _hours_of(quote)),
        trade_values=values_of(quote.takeoff, basis),
        labour_rates=from_json(basis["labour_table"], LabourTable),
        prices=Market(
            quote.price_date,
            from_json(basis.get("exchange_rates", {}), dict[str, Exchange]),
        ),
        buying=Purchase(
            from_json(basis.get("buying", {}), Buying),
            basis.get("days_to_start"),
            tuple(map(UUID, basis.get("job_offers", ()))),
        ),
        terms=from_json(basis["terms"], Terms),
    )


def _hours_of(quote: StoredQuote) -> tuple[Hours, ...]:
    """The day work of the request."""
    asked = quote.body.get("day_work") or ()
    return tuple(Hours(work["what"], work["rate"], Decimal(work["hours"])) for work in asked)


def figure_of(quote: StoredQuote) -> Figure | None:
    """The stored figure; None for a floor that has no price."""
    return totalled(quote.priced.totals if quote.priced else None)


def totalled(totals: Totals | None) -> Figure | None:
    return Figure(totals.net, totals.gross) if totals else None


def parts_between(session: Session, before: StoredQuote, after: StoredQuote) -> list[Part]:
    """The parts of the difference, none where either revision has no price."""
    first, last = figure_of(before), figure_of(after)
    if first is None or last is None:
        return []
    stages = list(_stages(rests_of(before), rests_of(after)))
    floors = list(_floors(rests for _, rests in stages))
    books = Books(floor for floor in floors if floor is not None)
    figures = [
        (causes, None if floor is None else _figure(session, books, floor, rests, before.currency))
        for (causes, rests), floor in zip(stages, floors, strict=True)
    ]
    return _together(_parts(first, [*figures, (("prices",), last)]))


def _stages(start: Rests, end: Rests) -> Iterator[tuple[tuple[str, ...], Rests]]:
    """What the earlier revision rests on, reckoned today, then each substitution that changes anything."""
    now = start
    yield ("prices",), now
    for cause in STEPS:
        following = replace(now, **{cause: getattr(end, cause)})
        if following != now:
            yield (cause,), following
        now = following


def _floors(stages: Iterable[Rests]) -> Iterator[Takeoff | None]:
    """Each stage's take-off, made once while its inputs stay; None where it cannot be built so."""
    known: tuple[Any, ...] = ()
    made: Takeoff | None = None
    for rests in stages:
        asked = rests.inputs.job, rests.trade_values, rests.labour_rates
        if asked != known:
            known, made = asked, _floor(*asked)
        yield made


def _floor(job: Job, values: TradeValues, rates: LabourTable) -> Takeoff | None:
    try:
        return take_off(job, values, rates)
    except InputError:
        return None


def _parts(first: Figure, steps: list[tuple[tuple[str, ...], Figure | None]]) -> Iterator[Part]:
    reached, waiting = first, tuple[str, ...]()
    for causes, figure in steps:
        waiting = tuple(dict.fromkeys((*waiting, *causes)))
        if figure is not None:
            yield Part(waiting, figure.since(reached))
            reached, waiting = figure, ()


def _together(parts: Iterator[Part]) -> list[Part]:
    """One part for each cause, those that moved nothing left out."""
    sums: dict[tuple[str, ...], Figure] = {}
    for part in parts:
        sums[part.causes] = sums.get(part.causes, Figure(Decimal(0), Decimal(0))).plus(part.moved)
    return [Part(causes, moved) for causes, moved in sums.items() if moved.net or moved.gross]


def _figure(session: Session, books: Books, floor: Takeoff, rests: Rests, currency: str) -> Figure | None:
    """What the floor comes to; None where it cannot be bought so."""
    basis = Basis(
        today=rests.prices.day,
        day=rests.prices.day,
        currency=currency,
        values=rests.trade_values,
        labour=rests.labour_rates,
        terms=rests.terms,
        valid_until=rests.prices.day,
        taxes=None,
        exchange_rates=rests.prices.exchange_rates,
        day_work=day_work_by(rests.terms, rests.inputs.day_work),
        buying=rests.buying.buying,
        days_to_start=rests.buying.days_to_start,
        job_offers=rests.buying.job_offers,
    )
    try:
        _, priced = price_takeoff(session, floor, basis, books.book, books.market)
    except (Unpriceable, UnknownReference):
        return None
    return totalled(priced.totals if priced else None)
