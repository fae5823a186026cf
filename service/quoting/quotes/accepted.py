"""What was accepted as a floor of its own: the option, or the rooms taken at their share of the prices.

The prices are those that were kept with the acceptance. Goods are bought in whole packs, so many as the share
of the rooms fills; take-off, schedule and needs are those of the rooms alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from math import ceil
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from service.pricing.model import Line, Priced, Terms, Totals
from service.pricing.money import to_minor, to_step
from service.pricing.totals import payments
from service.quoting.quotes.part import Accepted, Taken, taken_lines, taxes_of
from service.quoting.quotes.stored import StoredQuote
from service.quoting.snapshot import from_json, to_json
from service.store import quotes as store
from service.takeoff.answer import Takeoff

ZERO = Decimal(0)
STEP = Decimal("0.0001")
"""Quantities of a part are told to this part of their unit."""


def as_accepted(session: Session, quote: StoredQuote) -> StoredQuote:
    """The quote as it is built; as it stands where nothing was accepted, or all of it.

    Beside some rooms no option stands any more: each was one of the whole.
    """
    said = quote.acceptance or {}
    for name in said.get("options", ()):
        option = quote.option(name)
        return quote if option is None else quote.with_option(option)
    if said.get("whole", True) or quote.priced is None:
        return quote
    part = from_json(store.takeoff_of(session, UUID(said["takeoff_id"])), Takeoff)
    priced = _priced(quote.takeoff, part, quote.priced, from_json(quote.basis["terms"], Terms), said)
    return replace(quote, takeoff=part, priced=priced, options=())


def keep(session: Session, offer: StoredQuote, taken: Accepted) -> dict[str, Any]:
    """What the acceptance says; the take-off of a part is kept beside that of the offer."""
    if taken.part is None:
        return taken.figures
    kept = store.keep_part(session, offer.id, offer.revision, to_json(taken.part))
    return {**taken.figures, "takeoff_id": str(kept)}


def _priced(whole: Takeoff, part: Takeoff, priced: Priced, terms: Terms, said: Mapping[str, Any]) -> Priced:
    prices = {line["position"]: Decimal(line["price"]) for line in said["lines"]}
    taken = [one for one in taken_lines(whole, part, priced) if one.position in prices]
    lines = tuple(_shared(_line(one, prices[one.position], whole, part), one.share, terms) for one in taken)
    totals = _totals(lines, terms, {name: Decimal(said[name]) for name in ("net", "tax", "gross")})
    return replace(priced, lines=lines, totals=totals, basket=None, notices=())


def _line(one: Taken, price: Decimal, whole: Takeoff, part: Takeoff) -> Line:
    """The line at its price in the part, for the rooms and needs that are in it."""
    return replace(
        one.line,
        price=price,
        rooms=tuple(room.name for room in part.rooms if room.name in one.line.rooms),
        needs=_needs(one.line, whole, part),
    )


def _shared(line: Line, share: Fraction, terms: Terms) -> Line:
    """So much of it as the rooms need: of what comes in packs whole ones, of all else the share itself."""
    if share == 1 or line.kind == "adjustment":
        return line
    packs = ceil(share * line.packs) if line.packs else None
    paid = Fraction(packs, line.packs) if packs and line.packs else share
    return replace(
        line,
        quantity=to_step(Fraction(line.quantity) * share, STEP, terms.rounding),
        packs=packs,
        amount=to_minor(Fraction(line.amount) * paid, terms.rounding),
        cutting=None,
    )


def _needs(line: Line, whole: Takeoff, part: Takeoff) -> tuple[int, ...]:
    """The places that what a line serves has in the part's take-off."""
    served = [whole.materials[place] for place in line.needs]
    return tuple(
        place
        for place, material in enumerate(part.materials)
        if any(
            (material.role, material.product) == (need.role, need.product)
            and set(material.rooms) <= set(need.rooms)
            for need in served
        )
    )


def _totals(lines: tuple[Line, ...], terms: Terms, kept: Mapping[str, Decimal]) -> Totals:
    """The kept figures, and what follows from them by the terms: taxes, deposit, stages, retention."""
    bare = [line for line in lines if line.kind != "adjustment"]
    materials, delivery, labour = (
        _amount(line for line in bare if line.kind == kind) for kind in ("material", "delivery", "labour")
    )
    asked = sum((line.price for line in bare), ZERO)
    deposit, stages, retention = payments(kept["gross"], terms)
    return Totals(
        materials=materials,
        delivery=delivery,
        labour=labour,
        contingency=ZERO,
        markup=asked - materials - delivery - labour,
        discount=-_adjusted(lines, "discount"),
        minimum_charge=_adjusted(lines, "minimum_charge"),
        rounding=_adjusted(lines, "rounding"),
        net=kept["net"],
        tax=kept["tax"],
        taxes=taxes_of(bare, kept["net"], terms),
        gross=kept["gross"],
        deposit=deposit,
        stages=stages,
        retention=retention,
    )


def _amount(lines: Iterable[Line]) -> Decimal:
    return sum((line.amount for line in lines), ZERO)


def _adjusted(lines: tuple[Line, ...], role: str) -> Decimal:
    return sum((line.price for line in lines if line.kind == "adjustment" and line.role == role), ZERO)
