"""An office's own rules: commercial terms, and trade values of its own."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlalchemy.orm import Session

from service.quoting import catalogue
from service.quoting.buying import check_suppliers
from service.quoting.catalogue import Kind, Stale, Versions
from service.quoting.errors import Conflict, NotFound
from service.store import rows
from service.store.models import Organisation, TermsRow
from service.store.session import org_of
from service.trade.values import TradeValue, TradeValues, UnknownTradeValue, load_trade_values

TERMS = Kind("set of terms", TermsRow)
WIDEST = 10
"""An own value lies within this many times, and this part, of the published one: further out is a slip."""


class OutOfRange(Conflict):
    """An own value too far from the published one."""


def add_terms(session: Session, name: str, is_default: bool, body: Mapping[str, Any]) -> TermsRow:
    """UnknownReference for a preferred supplier that the organisation has not."""
    check_suppliers(session, body.get("buying", {}))
    if is_default:
        _no_default(session)
    return catalogue.add(session, TERMS, {"name": name, "is_default": is_default, "body": body})


def replace_terms(
    session: Session, terms_id: UUID, expected: Versions, name: str, is_default: bool, body: Mapping[str, Any]
) -> TermsRow:
    """The terms with this body; as the default they take the place of the former one. UnknownReference as
    for new ones."""
    check_suppliers(session, body.get("buying", {}))
    version = catalogue.at_version(session, TERMS, terms_id, expected)
    if is_default:
        _no_default(session, besides=terms_id)
    values = {"name": name, "is_default": is_default, "body": body}
    return catalogue.replace(session, TERMS, terms_id, frozenset({version}), values)


def _no_default(session: Session, besides: UUID | None = None) -> None:
    for row in rows.page(session, TermsRow, 1, None, TermsRow.is_default.is_(True)):
        if row.id != besides:
            rows.change(session, TermsRow, row.id, None, is_default=False)


def organisation(session: Session, *, to_change: bool = False) -> Organisation:
    """The caller's organisation, its row locked where it is about to change."""
    row = session.get(Organisation, org_of(session), with_for_update=to_change, populate_existing=to_change)
    if row is None:
        raise NotFound("organisation")
    return row


def replace_organisation(session: Session, expected: Versions, values: Mapping[str, Any]) -> Organisation:
    """The organisation with these particulars, one version on."""
    office = _office_at(session, expected)
    for name, value in values.items():
        setattr(office, name, value)
    office.version += 1
    session.flush()
    return office


def today(session: Session, now: datetime) -> date:
    """The day where the office is."""
    return local_day(now, organisation(session).time_zone)


def local_day(moment: datetime, time_zone: str) -> date:
    return moment.astimezone(ZoneInfo(time_zone)).date()


def set_price_limit(session: Session, percent: Decimal, expected: Versions) -> Organisation:
    """By how much a price may move before a new list needs confirmation, in percent."""
    office = _office_at(session, expected)
    office.price_jump_percent = percent
    office.version += 1
    session.flush()
    return office


def trade_values(session: Session, standards: str | None, on: date) -> TradeValues:
    """The values that hold for the organisation, its own in the place of the published ones."""
    office = organisation(session)
    published = load_trade_values(standards or office.standards, on)
    known = {key: value for key, value in office.value_overrides.items() if key in published.by_key}
    return published.overridden_by(known)


def trade_value(session: Session, key: str, on: date) -> tuple[Organisation, TradeValue]:
    """The organisation, whose version a change must name, and the value in force for it."""
    values = trade_values(session, None, on)
    if key not in values.by_key:
        raise NotFound("trade value")
    return organisation(session), values[key]


def set_own_value(session: Session, key: str, number: float, expected: Versions, on: date) -> Organisation:
    """Let the office's own number stand for a trade value; a published standard's limit is nobody's own."""
    office = _office_at(session, expected)
    published = _published(office, key, on)
    if not published / WIDEST <= number <= published * WIDEST:
        limits = f"from {published / WIDEST:g} to {published * WIDEST:g}"
        raise OutOfRange(f"{key} may be {limits}; published is {published:g}")
    return _write_own(session, office, {**office.value_overrides, key: number})


def drop_own_value(session: Session, key: str, expected: Versions) -> Organisation:
    """Go back to the published value."""
    office = _office_at(session, expected)
    if key not in office.value_overrides:
        raise NotFound("value of your own")
    kept = {own: value for own, value in office.value_overrides.items() if own != key}
    return _write_own(session, office, kept)


def _office_at(session: Session, expected: Versions) -> Organisation:
    office = organisation(session, to_change=True)
    if expected is not None and office.version not in expected:
        raise Stale("the organisation's values are at another version")
    return office


def _published(office: Organisation, key: str, on: date) -> float:
    try:
        value = load_trade_values(office.standards, on)[key]
    except UnknownTradeValue:
        raise NotFound("trade value") from None
    if value.tag == "standard":
        raise Conflict(f"{key} is the limit of a published standard: {value.source}")
    if isinstance(value.value, bool) or not isinstance(value.value, int | float):
        raise Conflict(f"{key} is no number, so it cannot be set")
    return float(value.value)


def _write_own(session: Session, office: Organisation, own: Mapping[str, Any]) -> Organisation:
    office.value_overrides = dict(own)
    office.version += 1
    session.flush()
    return office
