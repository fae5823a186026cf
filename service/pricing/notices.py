"""What the office should know of a quote's prices before it gives its word."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from service.pricing.model import Notice, Priced


def outlived(priced: Priced, ends: Mapping[str, date], valid_until: date) -> Priced:
    """The priced quote with a notice for each price list, by id, that ends before the quote does."""
    used = {line.price_list: line.supplier_name or "" for line in priced.lines if line.price_list}
    ending = {id_: name for id_, name in used.items() if id_ in ends and ends[id_] < valid_until}
    notices = (outlived_by(name, ends[id_], valid_until) for id_, name in ending.items())
    return replace(priced, notices=(*priced.notices, *notices))


def outlived_by(supplier: str, last: date, valid_until: date) -> Notice:
    """That prices of a supplier end on `last`, before the quote does."""
    return Notice(
        "prices_end_first",
        f"prices of {supplier} hold until {last.isoformat()}, the quote until {valid_until.isoformat()}",
    )


@dataclass(frozen=True, slots=True)
class Moved:
    """The price of a pack before and after, None where it is no longer sold."""

    supplier: str
    what: str
    old: Decimal
    new: Decimal | None


def moving(supplier: str, day: date, currency: str, moved: Sequence[Moved]) -> Notice:
    """That prices of a supplier, in its currency, change from `day` on, while the quote still holds."""
    told = "; ".join(_told(one, currency) for one in moved)
    return Notice("prices_change_first", f"prices of {supplier} change on {day.isoformat()}: {told}")


def _told(moved: Moved, currency: str) -> str:
    becomes = "no longer sold" if moved.new is None else f"{moved.new.normalize():f} {currency}"
    return f"{moved.what} from {moved.old.normalize():f} {currency} to {becomes}"
