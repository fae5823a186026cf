"""What takes the place of the conditions that quotes were priced by: terms, taxes and rates of the day."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
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
from service.store.models import QuoteConditions
from service.store.quotes import keep_conditions
from service.store.repricing.plan import Follower, conditions_held

BUYERS = ("consumer", "business")


def followers(session: Session, day: date, rates: Mapping[str, Exchange]) -> Iterator[Follower]:
    """For all conditions held and each kind of customer; Unready where a region has no taxes on the day."""
    for old_id, body in conditions_held(session).items():
        if "terms" in body:
            for buyer in BUYERS:
                yield _follower(session, old_id, body, buyer, (day, rates))


def terms_by_id(session: Session, ids: Iterable[UUID]) -> Mapping[UUID, Terms]:
    """The terms of these conditions."""
    return {id_: terms_in(row.body) for id_, row in rows.by_ids(session, QuoteConditions, ids).items()}


def terms_in(body: Mapping[str, Any]) -> Terms:
    return from_json(body["terms"], Terms)


def _follower(
    session: Session,
    old_id: UUID,
    body: Mapping[str, Any],
    buyer: Any,
    on: tuple[date, Mapping[str, Exchange]],
) -> Follower:
    day, rates = on
    old = terms_in(body)
    tax_date = date.fromisoformat(body["tax_date"]) if body.get("tax_date") else None
    now = term_store.terms_by_id(session, UUID(old.id))
    terms, taxes = (
        (old, body["versions"].get("taxes")) if now is None else taxed(session, now, tax_date or day)
    )
    of_crew = Decimal(body["crew_charge"]) if body.get("crew_charge") else None
    charge = of_crew if terms.hourly_charge is None else terms.hourly_charge
    terms = replace(terms, buyer=terms.buyer or buyer, hourly_charge=charge)
    new_body = conditions_of(terms, rates, taxes, tax_date, of_crew)
    return Follower(
        old_id=old_id,
        buyer=buyer,
        new_id=keep_conditions(session, new_body),
        other_terms=json.loads(json.dumps(to_json(terms))) != body["terms"],
        minor=terms.rounding.minor,
        half_even=terms.rounding.method == "half_even",
        valid_days=terms.valid_days,
        hourly_charge=charge,
        old_hourly_charge=old.hourly_charge,
        charge_note="" if charge is None else charge_note(charge),
    )
