"""One part of a run, in one transaction: done once, however often it is tried."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

import numpy as np
from sqlalchemy import Engine
from sqlalchemy.orm import Session

from service.pricing.model import Notice, Terms
from service.pricing.notices import outlived_by
from service.quoting import office
from service.quoting.office import local_day
from service.quoting.quotes.make import ENGINE_VERSION
from service.quoting.repricing.begin import selection_of
from service.quoting.repricing.choosing import NONE, Chosen, choose
from service.quoting.repricing.conditions import terms_by_id
from service.quoting.repricing.figures import NAMES, Figures, Limits
from service.quoting.repricing.finish import end
from service.store import rows
from service.store.models import Repricing
from service.store.repricing import part as store
from service.store.repricing import runs
from service.store.session import transaction
from service.telemetry import metrics


def reprice_part(engine: Engine, org_id: UUID, run_id: UUID, number: int, now: datetime) -> bool:
    """Reprice the quotes of a part; False where it was done already or the run does not run."""
    with transaction(engine, org_id) as session:
        run = rows.find(session, Repricing, run_id)
        part = store.take_part(session, run, number) if run and run.state == "running" else None
        if run is None or part is None:
            return False
        zone = office.organisation(session).time_zone
        selection = selection_of(run, zone)
        asked = store.Asked(run, part, selection, now, local_day(now, zone), ENGINE_VERSION)
        with store.unprepared(session):
            counts = _repriced(session, asked)
            _finish(session, asked, counts)
    metrics.repriced(counts)
    return True


def _repriced(session: Session, asked: store.Asked) -> Counter[str]:
    """Reprice what is visited; the counts of the part."""
    store.find(session, asked)
    baskets = choose(session, asked) if asked.run.choice == "choose" else NONE
    found = store.settle(session, asked)
    counts = Counter(visited=len(found), looked_at=len(found))
    by_outcome = Counter(row["outcome"] for row in found)
    counts.update(conflicts=by_outcome["conflict"], unpriceable=by_outcome["unpriceable"])
    if by_outcome["open"]:
        counts.update(_written(session, asked, found, baskets))
    if by_outcome["conflict"] or by_outcome["unpriceable"]:
        store.write_others(session, asked)
    return counts


def _written(
    session: Session, asked: store.Asked, found: Sequence[Mapping[str, Any]], baskets: Chosen
) -> Counter[str]:
    lines = store.amounts(session, NAMES)
    figures = Figures(found, lines, _terms(session, found), _notices(session, asked), baskets)
    limits = Limits(asked.run.limit_percent, asked.run.limit_amount)
    moved = list(figures.changed(limits, asked.run.mode == "revise"))
    kept = [row for passes, row in moved if passes]
    own = np.isin(lines["n"], [row[0] for row in kept])
    if kept:
        store.write(session, asked, kept, lines["n"][own], figures.positions[own], figures.prices[own])
    revised = sum(bool(row[store.TOTALS.index("revise")]) for row in kept)
    return Counter(changed=len(kept), within_limits=len(moved) - len(kept), revised=revised)


def _terms(session: Session, found: Sequence[Mapping[str, Any]]) -> Mapping[UUID, Terms]:
    """The terms of all conditions, before and after."""
    return terms_by_id(session, {row[name] for row in found for name in ("old_conditions", "new_conditions")})


def _notices(session: Session, asked: store.Asked) -> Mapping[int, Sequence[Notice]]:
    """By quote, the price lists that end before it does."""
    found: dict[int, list[Notice]] = defaultdict(list)
    for row in store.ending(session, asked):
        found[row["n"]].append(outlived_by(row["supplier_name"] or "", row["ends"], row["valid_until"]))
    return found


def _finish(session: Session, asked: store.Asked, counts: Mapping[str, int]) -> None:
    """Note the part as done; the last one ends the run."""
    runs.one_at_a_time(session)
    run: Repricing = store.finish(session, asked, counts)
    if run.parts_done == run.parts and run.state == "running":
        end(session, run, "done")
