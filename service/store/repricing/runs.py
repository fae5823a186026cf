"""Runs as a whole: who goes first, how they end, what they came to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from uuid import UUID

from sqlalchemy import func, select, text
from sqlalchemy.orm import Session

from service.store import rows
from service.store.models import Repricing, RepricingChange
from service.store.queue import BEGIN_REPRICING, REPRICE_PART, enqueue, enqueue_parts
from service.store.repricing.part import undone
from service.store.session import org_of

TOP = 10

SUMMARY = text("""
WITH of_run AS (
    SELECT c.*, q.number FROM repricing_changes AS c JOIN quotes AS q ON q.org_id = c.org_id AND q.id = c.quote_id
    WHERE c.org_id = :org_id AND c.repricing_id = :run AND c.outcome = 'changed'
), told AS (
    SELECT *, new_gross - old_gross AS moved, new_cost - old_cost AS dearer, old_net - new_cost AS left_over
    FROM of_run
)
SELECT
    (SELECT coalesce(sum(moved), 0) FROM told WHERE state <> 'accepted') AS moved_gross,
    (SELECT coalesce(sum(dearer), 0) FROM told WHERE state <> 'draft') AS exposure,
    (SELECT count(*) FROM told WHERE state <> 'draft' AND left_over * 100 < :floor * old_net) AS under_floor,
    (SELECT count(*) FROM told WHERE state = 'accepted' AND dearer > 0) AS accepted_lost,
    (SELECT coalesce(sum(dearer), 0) FROM told WHERE state = 'accepted' AND dearer > 0) AS accepted_lost_amount,
    (SELECT coalesce(jsonb_agg(jsonb_build_object('quote_id', quote_id, 'number', number, 'state', state,
        'old_gross', old_gross::text, 'new_gross', new_gross::text, 'moved', moved::text) ORDER BY abs(moved) DESC, quote_id), '[]')
        FROM (SELECT * FROM told ORDER BY abs(moved) DESC, quote_id LIMIT :top) AS t) AS movers,
    (SELECT coalesce(jsonb_agg(jsonb_build_object('quote_id', quote_id, 'number', number, 'state', state,
        'net', old_net::text, 'cost', new_cost::text, 'left_over', left_over::text) ORDER BY left_over, quote_id), '[]')
        FROM (SELECT * FROM told WHERE state <> 'draft' AND left_over * 100 < :floor * old_net
            ORDER BY left_over, quote_id LIMIT :top) AS t) AS thin
""")
LEFT_BEHIND = text("""
SELECT r.org_id, r.id FROM repricings AS r
WHERE r.state = 'running' AND NOT EXISTS (
    SELECT FROM procrastinate_jobs AS j
    WHERE j.status IN ('todo', 'doing') AND j.task_name = :task AND j.args ->> 'repricing_id' = r.id::text
)
""")


def one_at_a_time(session: Session) -> None:
    """Let nobody else begin or end a run of the organisation until the transaction ends."""
    name = func.hashtextextended(f"{org_of(session)}/repricing", 0)
    session.execute(select(func.pg_advisory_xact_lock(name)))


def lock(session: Session, run_id: UUID) -> Repricing | None:
    """The run as it is now, nobody else's to change until the transaction ends."""
    return rows.lock(session, Repricing, run_id)


def other_revises(session: Session, run: Repricing) -> bool:
    """Whether another run of the organisation is writing revisions."""
    query = select(Repricing.id).where(
        Repricing.org_id == run.org_id,
        Repricing.id != run.id,
        Repricing.mode == "revise",
        Repricing.state == "running",
    )
    return session.scalar(query.limit(1)) is not None


def call_next(session: Session) -> None:
    """Have the runs that wait try to begin, the oldest first."""
    query = select(Repricing.id).where(Repricing.org_id == org_of(session), Repricing.state == "waiting")
    for run_id in session.scalars(query.order_by(Repricing.created_at, Repricing.id)):
        defer_begin(session, run_id)


def defer_begin(session: Session, run_id: UUID, at: Any = None) -> None:
    args = {"org_id": str(org_of(session)), "repricing_id": str(run_id)}
    enqueue(session, BEGIN_REPRICING, args, at=at)


def defer_parts(session: Session, run: Repricing) -> None:
    """Defer a job for each part that is not done."""
    args = {"org_id": str(run.org_id), "repricing_id": str(run.id)}
    enqueue_parts(session, REPRICE_PART, args, undone(session, run))


def summary(session: Session, run: Repricing) -> Mapping[str, Any]:
    """What the changes come to, decimals as text."""
    asked = {"org_id": run.org_id, "run": run.id, "floor": run.margin_floor_percent, "top": TOP}
    found = session.execute(SUMMARY, asked).mappings().one()
    texts = ("moved_gross", "exposure", "accepted_lost_amount")
    return {**found, **{name: f"{found[name]:f}" for name in texts}}


def changes(
    session: Session, run_id: UUID, limit: int, after: UUID | None, outcome: str | None
) -> Sequence[RepricingChange]:
    """Up to `limit` of a run's changes by quote, after the one with this id."""
    query = select(RepricingChange).where(
        RepricingChange.org_id == org_of(session), RepricingChange.repricing_id == run_id
    )
    if after is not None:
        query = query.where(RepricingChange.quote_id > after)
    if outcome is not None:
        query = query.where(RepricingChange.outcome == outcome)
    return session.scalars(query.order_by(RepricingChange.quote_id).limit(limit)).all()


def left_behind(session: Session) -> Sequence[tuple[UUID, UUID]]:
    """Runs of all organisations that are running and for which no job is left (role office_batch)."""
    return [(row[0], row[1]) for row in session.execute(LEFT_BEHIND, {"task": REPRICE_PART})]


def add(session: Session, **values: Any) -> Repricing:
    """A run that waits, and the job that begins it, at `at` where given."""
    at = values.pop("at", None)
    run = rows.add(session, Repricing, **values)
    defer_begin(session, run.id, at)
    return run
