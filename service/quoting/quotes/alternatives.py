"""A quote's options: each an alternative to the whole of it, taken off and priced as a variant."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from service.pricing.model import Priced, Totals
from service.quoting.basis import QuoteRequest
from service.quoting.snapshot import from_json, to_json
from service.quoting.variants import Comparison, Difference, difference
from service.store.models import QuoteOption
from service.takeoff.answer import Takeoff


@dataclass(frozen=True, slots=True)
class Option:
    """One alternative; `priced` is None for a floor that must not be built so, `body` is what was asked."""

    name: str
    body: Mapping[str, Any]
    takeoff: Takeoff
    priced: Priced | None

    @property
    def note(self) -> str:
        return str(self.body.get("note", ""))

    @property
    def totals(self) -> Totals | None:
        return self.priced.totals if self.priced else None

    def beside(self, takeoff: Takeoff, priced: Priced | None) -> Difference | None:
        """How much more it costs than the floor that it stands beside; None where either has no price."""
        return difference((self.takeoff, self.priced), (takeoff, priced))


def options_of(request: QuoteRequest, found: Comparison) -> tuple[Option, ...]:
    """The options of a request, which follow on the request itself in the comparison."""
    pairs = zip(request.options, found.variants[1:], strict=True)
    return tuple(Option(asked.name, asked.body, each.takeoff, each.priced) for asked, each in pairs)


def kept_options(options: Iterable[Option]) -> list[dict[str, Any]]:
    """The columns of each."""
    return [_row(option) for option in options]


def _row(option: Option) -> dict[str, Any]:
    totals = option.totals
    return {
        "name": option.name,
        "request": dict(option.body),
        "takeoff": to_json(option.takeoff),
        "priced": to_json(option.priced) if option.priced else {},
        "net": totals.net if totals else None,
        "tax": totals.tax if totals else None,
        "gross": totals.gross if totals else None,
    }


def read_options(kept: Sequence[QuoteOption]) -> tuple[Option, ...]:
    return tuple(_option(row) for row in kept)


def _option(row: QuoteOption) -> Option:
    priced = from_json(row.priced, Priced) if row.priced else None
    return Option(row.name, row.request, from_json(row.takeoff, Takeoff), priced)
