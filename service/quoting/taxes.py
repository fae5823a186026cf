"""Taxes of regions: dated rows that the office keeps; a correction is a newer row."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from sqlalchemy.orm import Session

from service.pricing.model import TaxRule, Terms
from service.quoting import catalogue
from service.quoting.catalogue import Kind
from service.quoting.errors import Unready
from service.store import taxes as store
from service.store.models import TaxRules

TAXES = Kind("set of taxes", TaxRules)


def add_taxes(
    session: Session, region: str, valid_from: date, rules: Sequence[TaxRule], note: str = ""
) -> TaxRules:
    """The taxes of a region from a day on, in the place of an older row of the same region and day."""
    values = {
        "region": region,
        "valid_from": valid_from,
        "rules": store.stored_rules(rules),
        "note": note,
    }
    return catalogue.add(session, TAXES, values)


def taxes_on(session: Session, on: date) -> Sequence[TaxRules]:
    """The taxes of each region that hold on a day."""
    return store.in_force(session, on)


def rules_of(row: TaxRules) -> Sequence[TaxRule]:
    return store.rules_of(row)


def taxed(session: Session, terms: Terms, on: date) -> tuple[Terms, str | None]:
    """The terms with the taxes of their region on a day, and the id of the row that these came from.

    Terms that name no region keep the taxes that they state. Unready where none are held for the region: a
    tax that nobody looked up is not taken to be 0.
    """
    if terms.tax_region is None:
        return terms, None
    row = store.rules_in_force(session, terms.tax_region, on)
    if row is None:
        raise Unready(f"no taxes of {terms.tax_region} are held for {on.isoformat()}; see /v1/taxes")
    return replace(terms, taxes=store.rules_of(row)), str(row.id)
