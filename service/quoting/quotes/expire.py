"""Offers whose last day has gone by where their office works."""

from __future__ import annotations

import logging
from datetime import datetime
from uuid import UUID

from sqlalchemy import Engine

from service.quoting.quotes.actor import Actor
from service.quoting.quotes.step import write
from service.store import quotes as store
from service.store.session import transaction

logger = logging.getLogger(__name__)


def expire_due(engine: Engine, now: datetime) -> int:
    """Expire what ran out in every organisation (role office_batch); returns how many. Safe to repeat.

    Each organisation is a transaction of its own, so that a fault in one does not keep the others.
    """
    with transaction(engine) as session:
        offices = store.offices_with_run_out(session)
    return sum(_tried(engine, office, now) for office in offices)


def _tried(engine: Engine, org_id: UUID, now: datetime) -> int:
    try:
        return expire_of(engine, org_id, now)
    except Exception:
        logger.exception("the offers of organisation %s could not be expired", org_id)
        return 0


def expire_of(engine: Engine, org_id: UUID, now: datetime) -> int:
    """Expire the organisation's offers that ran out before its own today."""
    actor = Actor(now)
    with transaction(engine, org_id) as session:
        due = store.lock_run_out(session, actor.today(session))
        for quote in due:
            write(session, quote, quote.standing_revision, "expired", actor)
        return len(due)
