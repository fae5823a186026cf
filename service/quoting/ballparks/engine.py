"""What generated rooms cost by the take-off and pricing of quotes, under an office's conditions of one day."""

from __future__ import annotations

import multiprocessing
from collections.abc import Iterable, Iterator, Mapping
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


_engine: Engine | None = None
_market: Market | None = None


def priced(engine: Engine, rooms: Iterable[GeneratedRoom], processes: int = 1) -> Sample:
    """The rooms that can be built and bought, each with its gross price in every region; the rest are counted."""
    rooms = list(rooms)
    if processes == 1:
        _start(engine)
        prices = [_prices(room) for room in rooms]
    else:
        context = multiprocessing.get_context("spawn")
        with ProcessPoolExecutor(processes, context, _start, (engine,)) as pool:
            prices = list(pool.map(_prices, rooms, chunksize=CHUNK))
    known = [(room.answers, found) for room, found in zip(rooms, prices, strict=True) if found]
    return sample_of(known, tuple(engine.regions), refused=len(rooms) - len(known))


def _start(engine: Engine) -> None:
    global _engine, _market
    _engine, _market = engine, Market(engine.book, engine.basis.terms.rounding)


def _prices(room: GeneratedRoom) -> tuple[float, ...]:
    """As `quotes.make` reckons them: gross by region, nothing where the floor is refused or cannot be bought."""
    assert _engine is not None and _market is not None  # noqa: S101 - _start ran in this process
    basis = _engine.basis
    takeoff = take_off(job_of(room, _engine.standards), basis.values, basis.labour)
    if takeoff.refused:
        return ()
    needs, hours = needs_of(takeoff.materials), hours_of(takeoff.labour)
    hourly = basis.labour.hourly_cost
    found = price(needs, hours, hourly, _engine.book, basis.terms, basis.buying, basis.days_to_start, _market)
    if found.totals is None:
        return ()
    return tuple(float(on_terms(found, terms).totals.gross) for terms in _engine.regions.values())  # type: ignore[union-attr]
