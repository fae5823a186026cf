"""What takes the place of the conditions that quotes were priced by: terms, taxes and rates of the day."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from service.pricing.lines import charge_note
from service.pricing.model import Exchange, Terms
from service.quoting.basis import conditions_of
from service.quoting.snapshot import from_json, to_json
from service.quoting.taxes import taxed
from service.store import rows
from service.store import terms as term_store
from service.store.models import QuoteConditions, TermsRow
from service.store.repricing.plan import Follower, conditions_held
from service.store.revisions import keep_conditions

BUYERS = ("consumer", "business")


def followers(session: Session, day: date, rates: Mapping[str, Exchange]) -> Iterator[Follower]:
    """For all conditions held and each kind of customer; Unready where a region has no taxes on the day."""
    held = {id_: body for id_, body in conditions_held(session).items() if "terms" in body}
    named = {UUID(body["terms"]["id"]) for body in held.values()}
    following = _Following(session, rows.by_ids(session, TermsRow, named), day, rates)
    for old_id, body in held.items():
        if UUID(body["terms"]["id"]) in following.terms:  # terms of quotes cannot be deleted, others were
            for buyer in BUYERS:
                yield following.on(old_id, body, buyer)


def terms_by_id(session: Session, ids: Iterable[UUID]) -> Mapping[UUID, Terms]:
    """The terms of these conditions."""
    return {id_: terms_in(row.body) for id_, row in rows.by_ids(session, QuoteConditions, ids).items()}


def terms_in(body: Mapping[str, Any]) -> Terms:
    return from_json(body["terms"], Terms)


@dataclass(frozen=True, slots=True)
class _Now:
    """Conditions of today, as they are kept; `told` are the terms as JSON."""

    id: UUID
    terms: Terms
    told: Any


class _Following:
    """Many conditions of before have the same terms: what follows on these is asked for and kept once."""

    def __init__(
        self, session: Session, terms: Mapping[UUID, TermsRow], day: date, rates: Mapping[str, Exchange]
    ) -> None:
        self.terms = terms
        self._session, self._day, self._rates = session, day, rates
        self._known: dict[tuple[str, ...], _Now] = {}

    def on(self, old_id: UUID, body: Mapping[str, Any], buyer: Any) -> Follower:
        old, now = terms_in(body), self._now(body, buyer)
        charge = now.terms.hourly_charge
        return Follower(
            old_id=old_id,
            buyer=buyer,
            new_id=now.id,
            other_terms=now.told != body["terms"],
            minor=now.terms.rounding.minor,
            half_even=now.terms.rounding.method == "half_even",
            valid_days=now.terms.valid_days,
            hourly_charge=charge,
            old_hourly_charge=old.hourly_charge,
            charge_note="" if charge is None else charge_note(charge),
        )

    def _now(self, body: Mapping[str, Any], buyer: Any) -> _Now:
        crew, taxed_on = body.get("crew_charge"), body.get("tax_date")
        key = (body["terms"]["id"], str(crew), str(taxed_on), buyer)
        if key not in self._known:
            self._known[key] = self._kept(body, buyer, Decimal(crew) if crew else None)
        return self._known[key]

    def _kept(self, body: Mapping[str, Any], buyer: Any, crew: Decimal | None) -> _Now:
        tax_date = date.fromisoformat(body["tax_date"]) if body.get("tax_date") else None
        stored = term_store.terms_of(self.terms[UUID(body["terms"]["id"])])
        terms, taxes = taxed(self._session, stored, tax_date or self._day)
        charge = crew if terms.hourly_charge is None else terms.hourly_charge
        terms = replace(terms, buyer=terms.buyer or buyer, hourly_charge=charge)
        new_id = keep_conditions(self._session, conditions_of(terms, self._rates, taxes, tax_date, crew))
        return _Now(new_id, terms, json.loads(json.dumps(to_json(terms))))
