"""What a quote rests on besides the job: its day, and the values, rates and terms in force."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any, Literal, cast
from uuid import UUID

from sqlalchemy.orm import Session

from service.pricing.buying import Buying
from service.pricing.model import Exchange, Extra, Terms
from service.quoting import office
from service.quoting.buying import buying_for
from service.quoting.catalogue import UnknownReference
from service.quoting.errors import Unready
from service.quoting.labour.tables import labour_table_for
from service.quoting.snapshot import fingerprint, to_json
from service.quoting.taxes import taxed
from service.store import rows
from service.store import terms as term_store
from service.store.exchange_rates import rates_into
from service.store.in_force import offers_on
from service.store.models import Customer
from service.takeoff.rates import LabourTable
from service.takeoff.room import Job
from service.trade.values import TradeValues

Buyer = Literal["consumer", "business"]


@dataclass(frozen=True, slots=True)
class Hours:
    """Day work as asked for, at the rate of this name in the terms."""

    what: str
    rate: str
    hours: Decimal


@dataclass(frozen=True, slots=True)
class OptionAsked:
    """An alternative to the whole job: `job` as it is with the changes of `body`, the option as it came."""

    name: str
    job: Job
    body: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class QuoteRequest:
    """What the office asks for; `body` is the request as it came, kept for the record."""

    job: Job
    body: Mapping[str, Any]
    customer: Mapping[str, Any] | None = None
    customer_id: UUID | None = None
    terms_id: UUID | None = None
    price_date: date | None = None
    tax_date: date | None = None
    valid_days: int | None = None
    start_date: date | None = None
    buying: Mapping[str, Any] = field(default_factory=dict)
    job_offers: Sequence[str] = ()
    crew: str | None = None
    options: tuple[OptionAsked, ...] = ()
    day_work: tuple[Hours, ...] = ()


@dataclass(frozen=True, slots=True)
class Basis:
    """The office's day and the day of the prices, and all that held on it."""

    today: date
    day: date
    currency: str
    values: TradeValues
    labour: LabourTable
    terms: Terms  # with the taxes of their region, and what the customer is
    valid_until: date
    taxes: str | None  # the row that the taxes came from
    exchange_rates: Mapping[str, Exchange]  # into the office's currency, by the other
    buying: Buying = field(default_factory=Buying)
    days_to_start: int | None = None
    day_work: tuple[Extra, ...] = ()
    job_offers: tuple[UUID, ...] = ()  # price lists for this job
    tax_date: date | None = None  # where the office named one

    @property
    def kept(self) -> dict[str, Any]:
        """As stored with the take-off, since rates and own values may be edited later."""
        own = {key: value.value for key, value in self.values.by_key.items() if value.overridden}
        return {
            "labour_table": to_json(self.labour),
            "own_values": own,
            "buying": to_json(self.buying),
            "days_to_start": self.days_to_start,
            "job_offers": [str(offer) for offer in self.job_offers],
            "versions": {"labour_table": f"{self.labour.id}@{fingerprint(self.labour)}"},
        }

    @property
    def conditions(self) -> dict[str, Any]:
        """As stored with the prices, since terms may be edited later; many quotes share them."""
        of_crew = self.labour.hourly_charge
        return conditions_of(self.terms, self.exchange_rates, self.taxes, self.tax_date, of_crew)


def conditions_of(
    terms: Terms,
    rates: Mapping[str, Exchange],
    taxes: str | None,
    tax_date: date | None,
    of_crew: Decimal | None,
) -> dict[str, Any]:
    """Terms and exchange rates as they were, with the versions of what they came from.

    `of_crew` is what the crew's table charges for an hour, which holds again where terms no longer do.
    """
    versions = {
        "terms": f"{terms.id}@{fingerprint(terms)}",
        "taxes": taxes,
        "exchange_rates": fingerprint(rates) if rates else None,
    }
    return {
        "terms": to_json(terms),
        "exchange_rates": to_json(rates),
        "tax_date": None if tax_date is None else tax_date.isoformat(),
        "crew_charge": None if of_crew is None else str(of_crew),
        "versions": {name: version for name, version in versions.items() if version is not None},
    }


def basis_for(session: Session, request: QuoteRequest, now: datetime) -> Basis:
    """What holds for a request made `now`; Unready, UnknownReference where something is missing."""
    organisation = office.organisation(session)
    today = office.local_day(now, organisation.time_zone)
    day = request.price_date or today
    values = office.trade_values(session, request.job.standards, day)
    if not values.by_key:
        raise UnknownReference("/price_date", f"No trade values are held for {day.isoformat()}: too early.")
    labour = labour_table_for(session, day, request.crew)
    if labour.currency != organisation.currency:
        raise Unready(
            f"the labour table is in {labour.currency}, the office quotes in {organisation.currency}"
        )
    terms, taxes = taxed(session, _terms(session, request.terms_id), request.tax_date or day)
    return Basis(
        today=today,
        day=day,
        currency=organisation.currency,
        values=values,
        labour=labour,
        terms=replace(
            terms, buyer=terms.buyer or _buyer(session, request), hourly_charge=_charge(terms, labour)
        ),
        valid_until=today + timedelta(days=request.valid_days or terms.valid_days),
        taxes=taxes,
        exchange_rates=rates_into(session, organisation.currency, day).by_currency,
        buying=buying_for(session, request.buying, terms),
        days_to_start=_days_to_start(request.start_date, today),
        day_work=day_work_by(terms, request.day_work),
        job_offers=_job_offers(session, request.job_offers, day),
        tax_date=request.tax_date,
    )


def day_work_by(terms: Terms, asked: Iterable[Hours]) -> tuple[Extra, ...]:
    """The hours at the rates of the terms; UnknownReference for a rate that they do not have."""
    rates = {rate.name: rate for rate in terms.day_work}
    for place, work in enumerate(asked := tuple(asked)):
        if work.rate not in rates:
            raise UnknownReference(f"/day_work/{place}/rate", "The terms have no day-work rate of this name.")
    return tuple(Extra(work.what, rates[work.rate], work.hours) for work in asked)


def _job_offers(session: Session, references: Sequence[str], day: date) -> tuple[UUID, ...]:
    """The price lists of these references that hold on the day."""
    lists: list[UUID] = []
    for place, reference in enumerate(references):
        held = offers_on(session, reference, day)
        if held is None:
            raise UnknownReference(f"/job_offers/{place}", "No such offer for a job.")
        if not held:
            raise UnknownReference(f"/job_offers/{place}", f"The offer does not hold on {day.isoformat()}.")
        lists.extend(held)
    return tuple(lists)


def _buyer(session: Session, request: QuoteRequest) -> Buyer:
    """What the customer is: a consumer until somebody says that it is a business."""
    if request.customer is not None:
        return cast(Buyer, request.customer.get("kind", "consumer"))
    row = None if request.customer_id is None else rows.find(session, Customer, request.customer_id)
    return "consumer" if row is None else cast(Buyer, row.kind)


def _charge(terms: Terms, labour: LabourTable) -> Decimal | None:
    """What an hour is charged at: by the terms, else by the crew's table; None for cost with uplift."""
    return labour.hourly_charge if terms.hourly_charge is None else terms.hourly_charge


def _days_to_start(start: date | None, today: date) -> int | None:
    """From the order, made today, to when the goods must be there."""
    if start is None:
        return None
    if start < today:
        raise UnknownReference("/start_date", "The start date has passed.")
    return (start - today).days


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
