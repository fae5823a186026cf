"""A run ends, whoever asked to is told of it, and those that wait may begin."""

from __future__ import annotations

from sqlalchemy import func
from sqlalchemy.orm import Session

from service.store import webhooks
from service.store.models import Repricing
from service.store.repricing import plan, runs


def end(session: Session, run: Repricing, state: str) -> None:
    """Put a run into its last state; the caller holds the organisation's runs and the run itself.

    What a failed run works with is kept, since it may be resumed.
    """
    run.state = state
    run.version += 1
    run.ended_at = func.now()
    if state != "failed":
        run.summary = dict(runs.summary(session, run))
        plan.forget(session, run.id)
    session.flush()
    webhooks.announce_repricing(session, run)
    runs.call_next(session)
