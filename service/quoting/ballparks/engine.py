"""What generated rooms cost by the take-off and pricing of quotes, as an office prices on one day."""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

from service.ballpark.generate import GeneratedRoom
from service.ballpark.sample import Sample, sample_of
from service.pricing import price
from service.pricing.market import Market
from service.pricing.model import PriceBook, Terms
from service.quoting.ballparks.rooms import job_of
from service.quoting.basis import Basis
from service.quoting.needs import hours_of, needs_of
from service.quoting.variants.shop import on_terms
from service.takeoff import take_off
from service.takeoff.room import Standards

Prices = tuple[float, ...]
"""Gross, by region."""
CHUNK = 20
USUAL = ""
"""The region of whoever names none: the taxes of the office's default terms."""


@dataclass(frozen=True, slots=True)
class Engine:
    """All that a quote of the office's default terms rests on, and the terms in each region."""

    standards: Standards
    basis: Basis
    book: PriceBook
    regions: Mapping[str, Terms]


class Pricer:
    """Prices rooms one by one; what a pack mix costs is found once."""

    def __init__(self, engine: Engine) -> None:
        self._engine = engine
        self._market = Market(engine.book, engine.basis.terms.rounding)

    def __call__(self, room: GeneratedRoom) -> Prices:
        """As `quotes.make` reckons it: gross by region; nothing for a floor refused or not to be bought."""
        basis = self._engine.basis
        takeoff = take_off(job_of(room, self._engine.standards), basis.values, basis.labour)
        if takeoff.refused:
            return ()
        found = price(
            needs_of(takeoff.materials),
            hours_of(takeoff.labour),
            basis.labour.hourly_cost,
            self._engine.book,
            basis.terms,
            basis.buying,
            basis.days_to_start,
            self._market,
        )
        if found.totals is None:
            return ()
        totals = (on_terms(found, terms).totals for terms in self._engine.regions.values())
        return tuple(float(each.gross) for each in totals if each is not None)


def priced(
    engine: Engine, rooms: Iterable[GeneratedRoom], going_on: Callable[[], None] = lambda: None
) -> Sample:
    """`going_on` is called after each room and may raise what ends it all."""
    drawn, found = list(rooms), []
    for each in prices(engine, drawn):
        found.append(each)
        going_on()
    return sampled(engine, drawn, found)


def sampled(engine: Engine, drawn: Sequence[GeneratedRoom], found: Sequence[Prices]) -> Sample:
    """The rooms that can be built and bought, with their gross prices by region; the rest are counted."""
    known = [(room.answers, each) for room, each in zip(drawn, found, strict=True) if each]
    return sample_of(known, tuple(engine.regions), refused=len(drawn) - len(known))


def prices(engine: Engine, rooms: Iterable[GeneratedRoom], processes: int = 1) -> Iterator[Prices]:
    """Of each room as soon as it is priced, in order; nothing for one that cannot be built or bought."""
    if processes == 1:
        yield from map(Pricer(engine), rooms)
        return
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(processes, context, _start, (engine,)) as pool:
        yield from pool.map(_priced, rooms, chunksize=CHUNK)


_pricer: list[Pricer] = []
"""That of a process of the pool."""


def _start(engine: Engine) -> None:
    _pricer[:] = [Pricer(engine)]


def _priced(room: GeneratedRoom) -> Prices:
    return _pricer[0](room)
