"""The office's taxes: the rules of a region that held on a day."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import date
from decimal import Decimal
from typing import Any

from sqlalchemy import Select
from sqlalchemy.orm import Session

from service.pricing.model import TaxRule
from service.store import rows
from service.store.models import TaxRules


def in_force(session: Session, on: date) -> Sequence[TaxRules]:
    """The rules of each region on a day: the latest from-date, of several rows the newest."""
    return session.scalars(_in_force(session, on)).all()


def rules_in_force(session: Session, region: str, on: date) -> TaxRules | None:
    """The rules of one region on a day; None where none have begun."""
    return session.scalars(_in_force(session, on).where(TaxRules.region == region)).one_or_none()


def stored_rules(rules: Sequence[TaxRule]) -> list[dict[str, Any]]:
    """What the column `rules` keeps: decimals as strings."""
    return [{**asdict(rule), "percent": str(rule.percent)} for rule in rules]


def rules_of(row: TaxRules) -> tuple[TaxRule, ...]:
    """Stored rules as pricing sees them."""
    return tuple(_rule(rule) for rule in row.rules)


def _rule(stored: Mapping[str, Any]) -> TaxRule:
    return TaxRule(**{**stored, "percent": Decimal(stored["percent"])})


def _in_force(session: Session, on: date) -> Select[Any]:
    return rows.in_force(session, TaxRules, on, TaxRules.region)
