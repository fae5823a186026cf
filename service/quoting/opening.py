"""A new organisation: itself, the labour rates that it begins with, and the key that opens all else."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date

from sqlalchemy.orm import Session

from service.quoting import keys
from service.quoting.labour.tables import add_labour_table
from service.store.models import Organisation
from service.store.session import org_of
from service.takeoff.labour import default_labour_table
from service.trade import load_trade_values


def open_organisation(
    session: Session, name: str, currency: str, standards: str, time_zone: str, on: date, pepper: str
) -> str:
    """Store the organisation that the session is bound to; its key with the scope admin, told once."""
    session.add(
        Organisation(
            org_id=org_of(session), name=name, currency=currency, standards=standards, time_zone=time_zone
        )
    )
    session.flush()
    add_opening_rates(session, standards, currency, on)
    _, secret = keys.make_key(session, pepper, "first key", ("admin",))
    return secret


def add_opening_rates(session: Session, standards: str, currency: str, on: date) -> None:
    """Labour rates from common practice, there to be replaced by the office's own."""
    opening = default_labour_table(load_trade_values(standards, on), id="", currency=currency)
    head = {name: value for name, value in asdict(opening).items() if name not in {"id", "rates"}}
    add_labour_table(session, {**head, "valid_from": on}, [asdict(rate) for rate in opening.rates])
