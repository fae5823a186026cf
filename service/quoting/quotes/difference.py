"""What moved from one revision of a quote to another, and how much of the total each cause explains."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from service.quoting.errors import NotFound
from service.quoting.imprints import imprint
from service.quoting.quotes.causes import Figure, Part, figure_of, parts_between, totalled
from service.quoting.quotes.changes import (
    Change,
    Moved,
    document_changes,
    price_changes,
    quantity_changes,
)
from service.quoting.quotes.stored import StoredQuote, read
from service.store import quotes as store

WORDS = {
    "inputs": "rooms, finishes and quantities",
    "trade_values": "the trade's values",
    "labour_rates": "labour rates",
    "prices": "products and prices",
    "buying": "how it is bought",
    "terms": "terms and taxes",
}


@dataclass(frozen=True, slots=True)
class OptionMoved:
    """An option whose figures differ; None where it was not there, or had no price."""

    name: str
    before: Figure | None
    after: Figure | None


@dataclass(frozen=True, slots=True)
class Difference:
    """From one revision to another; without `moved` and parts where either has no price."""

    before: int
    after: int
    currency: str
    inputs: tuple[Change, ...]
    quantities: tuple[Moved, ...]
    prices: tuple[Moved, ...]
    terms: tuple[Change, ...]
    moved: Figure | None
    parts: tuple[Part, ...]
    options: tuple[OptionMoved, ...] = ()

    @property
    def summary(self) -> tuple[str, ...]:
        """The parts in words, then the whole."""
        if self.moved is None:
            return ("One of the revisions has no price.",)
        told = [f"{_listed(part.causes)}: {part.moved.gross:+} {self.currency}" for part in self.parts]
        return (*told, f"In all: {self.moved.gross:+} {self.currency}")


def difference(session: Session, quote_id: UUID, number: int, to: int | None = None) -> Difference:
    """From revision `number` to revision `to`, without one to the newest; NotFound where there is none."""
    quote = store.find_quote(session, quote_id)
    if quote is None:
        raise NotFound("quote")
    numbers = number, quote.current_revision if to is None else to
    first, second = (read(session, quote, each) for each in numbers)
    agreed = [{**_terms(each), **_printed(session, each)} for each in (first, second)]
    return Difference(
        before=first.revision,
        after=second.revision,
        currency=second.currency,
        inputs=tuple(document_changes(_asked(first), _asked(second))),
        quantities=tuple(quantity_changes(first.takeoff, second.takeoff)),
        prices=tuple(price_changes(_lines(first), _lines(second))),
        terms=tuple(document_changes(agreed[0], agreed[1])),
        moved=_whole(first, second),
        options=tuple(_options(first, second)),
        parts=tuple(parts_between(session, first, second)),
    )


def _asked(quote: StoredQuote) -> dict[str, Any]:
    """The request without the customer's own data, which are not the revision's."""
    return {name: value for name, value in quote.body.items() if name != "customer"}


def _lines(quote: StoredQuote) -> tuple[Any, ...]:
    return quote.priced.lines if quote.priced else ()


def _terms(quote: StoredQuote) -> dict[str, Any]:
    """Commercial terms, labour table and own values: what the office agreed with itself."""
    return {name: quote.basis[name] for name in ("terms", "labour_table", "own_values")}


def _printed(session: Session, quote: StoredQuote) -> dict[str, Any]:
    """What its document says besides: the letterhead's texts, and for which kind of customer."""
    return {"printed": imprint(session, quote.id, quote.revision, quote.customer_id).texts}


def _whole(first: StoredQuote, second: StoredQuote) -> Figure | None:
    start, end = figure_of(first), figure_of(second)
    return end.since(start) if start and end else None


def _options(first: StoredQuote, second: StoredQuote) -> Iterator[OptionMoved]:
    """The options of either that are not in both with the same figures."""
    names = dict.fromkeys(option.name for option in (*first.options, *second.options))
    for name in names:
        held = first.option(name), second.option(name)
        before, after = (totalled(option.totals) if option else None for option in held)
        if before != after or None in held:
            yield OptionMoved(name, before, after)


def _listed(causes: tuple[str, ...]) -> str:
    text = " and ".join(WORDS[cause] for cause in causes)
    return text[:1].upper() + text[1:]
