"""Variants taken off and priced, each thing that several share only once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import datetime
from decimal import Decimal
from uuid import UUID

from sqlalchemy.orm import Session

from service.pricing.model import Priced, Terms, Uplift
from service.quoting.basis import Basis, QuoteRequest, basis_for
from service.quoting.catalogue import UnknownReference
from service.quoting.errors import QuotingError, Unpriceable
from service.quoting.variants.products import named, nameless
from service.quoting.variants.shop import Shop
from service.takeoff import take_off
from service.takeoff.answer import Takeoff
from service.takeoff.budget import Work
from service.takeoff.errors import InputError
from service.takeoff.room import Job
from service.takeoff.shared import Shared


@dataclass(frozen=True, slots=True)
class TermsChange:
    """What a variant changes of its terms; uplifts by role group, the others stay."""

    contingency_percent: Decimal | None = None
    discount_percent: Decimal | None = None
    uplifts: Mapping[str, Uplift] = field(default_factory=dict)

    def of(self, terms: Terms) -> Terms:
        said = {
            "contingency_percent": self.contingency_percent,
            "discount_percent": self.discount_percent,
        }
        changed = {name: value for name, value in said.items() if value is not None}
        return replace(terms, uplifts={**terms.uplifts, **self.uplifts}, **changed)  # type: ignore[arg-type]


@dataclass(frozen=True, slots=True)
class Asked:
    """One variant: its rooms as they are then, and on which terms."""

    name: str
    job: Job
    terms_id: UUID | None = None
    terms: TermsChange = TermsChange()


@dataclass(frozen=True, slots=True)
class Variant:
    """A variant taken off; `priced` is None for a floor that must not be built so."""

    name: str
    takeoff: Takeoff
    priced: Priced | None
    terms: Terms


@dataclass(frozen=True, slots=True)
class Comparison:
    """The variants in the order in which they were asked for; the first is what the others stand beside."""

    basis: Basis
    variants: tuple[Variant, ...]


class BadVariant(QuotingError):
    """The variant of this number cannot be: `fault` says why."""

    def __init__(self, number: int, fault: InputError | UnknownReference | Unpriceable) -> None:
        super().__init__(str(fault))
        self.number = number
        self.fault = fault


class BadOption(BadVariant):
    """The same of an option of a quote."""


def compare(session: Session, request: QuoteRequest, asked: Sequence[Asked], now: datetime) -> Comparison:
    """Take off and price every variant of a request; `request.job` is that of the first.

    BadVariant where one is bad input or cannot be bought, Unready as for a quote.
    """
    bases = _Bases(session, request, now)
    asked = _affordable(asked)
    plans = _Plans(bases.of(asked[0]))
    planned = []
    for number, variant in enumerate(asked):
        with _naming(number):
            planned.append((variant, bases.of(variant), plans.of(variant.job)))
    shop = Shop(session, [takeoff for _, _, takeoff in planned])
    variants = []
    for number, (variant, basis, takeoff) in enumerate(planned):
        with _naming(number):
            variants.append(Variant(variant.name, *shop.price(takeoff, basis), basis.terms))
    return Comparison(planned[0][1], tuple(variants))


def _affordable(asked: Sequence[Asked]) -> list[Asked]:
    """All with the same search for origins, the one that there is time for, before any is taken off."""
    work = Work()
    for number, variant in enumerate(asked):
        with _naming(number):
            work.add(variant.job)
    return [replace(variant, job=work.searched(variant.job)) for variant in asked]


@contextmanager
def _naming(number: int) -> Iterator[None]:
    """What is wrong inside is wrong with the variant of this number."""
    try:
        yield
    except (InputError, UnknownReference, Unpriceable) as fault:
        raise BadVariant(number, fault) from fault


class _Bases:
    """What each variant rests on, the day and the rates being the same for all."""

    def __init__(self, session: Session, request: QuoteRequest, now: datetime) -> None:
        self._session, self._request, self._now = session, request, now
        self._known: dict[UUID | None, Basis] = {}

    def of(self, asked: Asked) -> Basis:
        terms_id = asked.terms_id or self._request.terms_id
        if terms_id not in self._known:
            request = replace(self._request, terms_id=terms_id)
            self._known[terms_id] = basis_for(self._session, request, self._now)
        basis = self._known[terms_id]
        return replace(basis, terms=asked.terms.of(basis.terms))


class _Plans:
    """Take-offs of jobs; those that differ in products alone are one."""

    def __init__(self, basis: Basis) -> None:
        self._basis, self._shared = basis, Shared()
        self._known: dict[Job, Takeoff] = {}

    def of(self, job: Job) -> Takeoff:
        plain, names = nameless(job)
        if plain not in self._known:
            self._known[plain] = take_off(plain, self._basis.values, self._basis.labour, self._shared)
        return named(self._known[plain], job, names)
