"""What the office should know of a quote's prices before it gives its word."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date

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
