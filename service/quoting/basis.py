"""What a quote rests on besides the job: its day, and the values, rates and terms in force."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlalchemy.orm import Session

from service.pricing.model import Terms
from service.quoting import office
from service.quoting.catalogue import UnknownReference
from service.quoting.errors import Unready
from service.quoting.snapshot import fingerprint, to_json
from service.quoting.takeoffs import labour_table_for
from service.store import terms as term_store
from service.takeoff.rates import LabourTable
from service.takeoff.room import Job
from service.trade.values import TradeValues


@dataclass(frozen=True, slots=True)
class QuoteRequest:
    """What the office asks for; `body` is the request as it came, kept for the record."""

    job: Job
    body: Mapping[str, Any]
    customer: Mapping[str, Any] | None = None
    customer_id: UUID | None = None
    terms_id: UUID | None = None
    price_date: date | None = None
    valid_days: int | None = None


@dataclass(frozen=True, slots=True)
class Basis:
    """The office's day and the day of the prices, and all that held on it."""

    today: date
    day: date
    currency: str
    values: TradeValues
    labour: LabourTable
    terms: Terms

    @property
    def kept(self) -> dict[str, Any]:
        """As stored with the quote, since rates, terms and own values may be edited later."""
        own = {key: value.value for key, value in self.values.by_key.items() if value.overridden}
        return {
            "labour_table": to_json(self.labour),
            "terms": to_json(self.terms),
            "own_values": own,
            "versions": {
                "labour_table": f"{self.labour.id}@{fingerprint(self.labour)}",
                "terms": f"{self.terms.id}@{fingerprint(self.terms)}",
            },
        }


def basis_for(session: Session, request: QuoteRequest, now: datetime) -> Basis:
    """What holds for a request made `now`; Unready, UnknownReference where something is missing."""
    organisation = office.organisation(session)
    today = now.astimezone(ZoneInfo(organisation.time_zone)).date()
    day = request.price_date or today
    values = office.trade_values(session, request.job.standards, day)
    if not values.by_key:
        raise UnknownReference("/price_date", f"No trade values are held for {day.isoformat()}: too early.")
    labour = labour_table_for(session, day)
    if labour.currency != organisation.currency:
        raise Unready(
            f"the labour table is in {labour.currency}, the office quotes in {organisation.currency}"
        )
    terms = _terms(session, request.terms_id)
    return Basis(today, day, organisation.currency, values, labour, terms)


def _terms(session: Session, terms_id: UUID | None) -> Terms:
    if terms_id is None:
        terms = term_store.default_terms(session)
        if terms is None:
            raise Unready("no default terms are set; store them with POST /v1/terms")
        return terms
    named = term_store.terms_by_id(session, terms_id)
    if named is None:
        raise UnknownReference("/terms_id", "No such terms.")
    return named
