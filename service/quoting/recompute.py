"""An old take-off done again with what it was made of."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from service.quoting.snapshot import from_json
from service.takeoff import take_off
from service.takeoff.answer import Takeoff
from service.takeoff.rates import LabourTable
from service.trade.values import TradeValues, load_edition

EditionOf = Callable[[str], TradeValues]


def values_of(
    takeoff: Takeoff, basis: Mapping[str, Any], edition_of: EditionOf = load_edition
) -> TradeValues:
    """The trade values of the take-off's edition, with the office's own as they were kept in `basis`."""
    return edition_of(takeoff.trade_edition).overridden_by(basis.get("own_values", {}))


def recomputed(takeoff: Takeoff, basis: Mapping[str, Any], edition_of: EditionOf = load_edition) -> Takeoff:
    """The take-off of a quote's job with its own edition, own values and labour table, as kept in `basis`.

    The same engine gives the same bytes again, whatever trade values have followed since.
    """
    values = values_of(takeoff, basis, edition_of)
    return take_off(takeoff.job, values, from_json(basis["labour_table"], LabourTable))
