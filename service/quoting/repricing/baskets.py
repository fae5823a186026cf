"""Baskets for what quotes want, at the prices of a run; equal ones are found once."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, cast
from uuid import UUID

from sqlalchemy.orm import Session

from service.pricing.buying import Buying
from service.pricing.exchange import left_out
from service.pricing.goods import Goods, goods
from service.pricing.market import Market
from service.pricing.model import Exchange, Gap, Need, Notice, Rounding, Terms
from service.pricing.terms import serving
from service.quoting.needs import needs_of
from service.quoting.office import organisation
from service.quoting.snapshot import from_json
from service.store.models import Repricing
from service.store.repricing.book import book_of
from service.takeoff.answer import Material

TOO_LATE = Goods(gaps=(Gap("all that is bought", "lead_time", "the day on which the work begins is over"),))


@dataclass(frozen=True, slots=True)
class Wanted:
    """What equal baskets have in common: materials as their JSON text, how they are bought, the days until
    they are needed (None: whenever), and a fingerprint of the terms as far as they bear on it."""

    materials: str
    buying: Buying
    days: int | None
    terms: str


def wanted(
    row: Mapping[str, Any], terms: Mapping[UUID, Terms], bearings: Mapping[UUID, str], today: date
) -> Wanted:
    """Of a quote's row: how its request asked to buy holds, in all else what the terms say today.

    Terms and what of them bears on the basket are those of conditions, by id.
    """
    conditions = row["new_conditions"]
    asked = json.loads(row["asked"] or "{}")
    kept = from_json(json.loads(row["bought_as"] or "{}"), Buying)
    start = row["start_date"]
    return Wanted(
        materials=row["materials"],
        buying=replace(terms[conditions].buying, **{name: getattr(kept, name) for name in asked}),
        days=None if start is None else (date.fromisoformat(start) - today).days,
        terms=bearings[conditions],
    )


class Baskets:
    """One price book for all that is wanted, terms by their fingerprint."""

    def __init__(
        self, session: Session, run: Repricing, asked: Iterable[Wanted], terms: Mapping[str, Terms]
    ) -> None:
        """Of a run that has begun."""
        self._needs = {text: _needs(text) for text in {one.materials for one in asked}}
        needs = [need for some in self._needs.values() for need in some]
        roles = {role for need in needs for role in serving(need.role)}
        chosen = {UUID(need.product) for need in needs if need.product is not None}
        currency = organisation(session).currency
        day = cast(date, run.price_date)
        self._book = book_of(session, run.id, day, currency, roles, chosen, _exchange)
        self._terms = terms
        self._markets: dict[Rounding, Market] = {}
        self._known: dict[Wanted, Goods] = {}

    @property
    def notices(self) -> tuple[Notice, ...]:
        return left_out(self._book)

    def of(self, asked: Wanted) -> Goods:
        if asked not in self._known:
            self._known[asked] = self._bought(asked)
        return self._known[asked]

    def _bought(self, asked: Wanted) -> Goods:
        if asked.days is not None and asked.days < 0:
            return TOO_LATE
        terms = self._terms[asked.terms]
        market = self._markets.setdefault(terms.rounding, Market(self._book, terms.rounding))
        return goods(self._needs[asked.materials], self._book, terms, asked.buying, asked.days, market)


def _exchange(told: Any) -> Exchange:
    return from_json(told, Exchange)


def _needs(materials: str) -> tuple[Need, ...]:
    return needs_of(from_json(json.loads(materials), tuple[Material, ...]))
