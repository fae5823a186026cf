"""Runs ordered, paused, resumed, cancelled, read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from service.quoting.catalogue import CUSTOMERS, PRODUCTS, Kind, UnknownReference
from service.quoting.errors import Conflict, NotFound
from service.quoting.price_lists import PRICE_LISTS
from service.quoting.quotes.actor import Actor
from service.quoting.repricing.finish import end
from service.store import rows
from service.store.models import Repricing, RepricingChange
from service.store.repricing import runs

OVER = ("done", "cancelled")
PART_SIZES = {"keep": 1000, "choose": 200}
"""Quotes of a part: about two seconds of work, so that a run tells how far it is and can be paused."""
REPRICINGS = Kind("repricing", Repricing)


@dataclass(frozen=True, slots=True)
class Order:
    """What is to be repriced and how; `selection` in the names of the request."""

    mode: str
    choice: str = "keep"
    selection: Mapping[str, Any] = field(default_factory=dict)
    price_list_id: UUID | None = None
    price_date: date | None = None
    threshold: Decimal = Decimal(0)
    limit_percent: Decimal | None = None
    limit_amount: Decimal | None = None
    margin_floor_percent: Decimal = Decimal(0)
    part_size: int | None = None


def order(session: Session, said: Order, actor: Actor) -> Repricing:
    """A run that waits for a worker, deferred in the caller's transaction."""
    for name, kind in (("customers", CUSTOMERS), ("products", PRODUCTS)):
        _known(session, kind, said.selection.get(name) or [], f"/select/{name}")
    if said.price_list_id is not None:
        price_list = rows.find(session, PRICE_LISTS.model, said.price_list_id)
        if price_list is None:
            raise UnknownReference("/select/price_list", "No such price list.")
        if price_list.state == "draft":
            raise UnknownReference("/select/price_list", "This list is a draft: activate it first.")
    values = {name: getattr(said, name) for name in said.__slots__}
    values["part_size"] = said.part_size or PART_SIZES[said.choice]
    return runs.add(session, key_id=actor.key_id, **values)


def _known(session: Session, kind: Kind[Any], ids: Sequence[str], pointer: str) -> None:
    held = rows.by_ids(session, kind.model, map(UUID, ids)) if ids else {}
    for place, said in enumerate(ids):
        if UUID(said) not in held:
            raise UnknownReference(f"{pointer}/{place}", f"No such {kind.word}.")


def get(session: Session, run_id: UUID) -> Repricing:
    run = rows.find(session, Repricing, run_id)
    if run is None:
        raise NotFound("repricing")
    return run


def pause(session: Session, run_id: UUID) -> Repricing:
    """Stop after the parts that are being done; asked again it stays so."""
    run = _locked(session, run_id)
    if run.state in OVER or run.state == "failed":
        raise Conflict(f"the repricing is {run.state}, so it cannot be paused")
    if run.state != "paused":
        run.state = "paused"
        run.version += 1
        session.flush()
        runs.call_next(session)
    return run


def resume(session: Session, run_id: UUID) -> Repricing:
    """Go on where it was paused or failed; a run that goes on already does."""
    run = _locked(session, run_id)
    if run.state in OVER:
        raise Conflict(f"the repricing is {run.state}, so it cannot be resumed")
    if run.state in ("paused", "failed"):
        run.state, run.ended_at = "waiting", None
        run.version += 1
        session.flush()
        runs.defer_begin(session, run.id)
    return run


def cancel(session: Session, run_id: UUID) -> Repricing:
    """Do no further part; what was done stays."""
    run = _locked(session, run_id)
    if run.state == "done":
        raise Conflict("the repricing is done, so it cannot be cancelled")
    if run.state != "cancelled":
        end(session, run, "cancelled")
    return run


def _locked(session: Session, run_id: UUID) -> Repricing:
    runs.one_at_a_time(session)
    run = runs.lock(session, run_id)
    if run is None:
        raise NotFound("repricing")
    return run


def changes(
    session: Session, run_id: UUID, limit: int, after: UUID | None, outcome: str | None
) -> Sequence[RepricingChange]:
    """The run's changes by quote, after the cursor."""
    get(session, run_id)
    return runs.changes(session, run_id, limit, after, outcome)


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a run is: percent of its parts, quotes a second since it was last set going, seconds left."""

    percent: float
    quotes_per_s: float | None
    left_s: float | None


def progress(run: Repricing, now: datetime) -> Progress:
    done = run.parts_done / run.parts if run.parts else float(run.state == "done")
    until = run.ended_at or now
    worked = (until - run.worked_from).total_seconds() if run.worked_from else 0.0
    visited = run.looked_at - run.worked_before
    rate = visited / worked if worked > 0 and visited else None
    going = run.state == "running" and rate and done
    left = run.looked_at / done * (1 - done) / rate if going and rate else None
    return Progress(round(100 * done, 1), rate and round(rate, 1), left and round(left, 1))
