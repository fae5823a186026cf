"""`reprice`: many quotes at new prices, from the command line, with a progress bar and a summary."""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlalchemy import Engine
from tqdm import tqdm

from service.commands.import_prices import Caller, caller_of
from service.quoting.errors import QuotingError
from service.quoting.quotes import Actor
from service.quoting.repricing import steer
from service.serve import worker_process
from service.settings import Settings
from service.store.engine import make_engine
from service.store.models import Repricing
from service.store.session import transaction

POLL_S = 0.3
BAR = "{desc} {percentage:3.0f} %|{bar}| {elapsed}<{remaining}{postfix}"
OVER = ("done", "failed", "cancelled")


def run(options: argparse.Namespace, settings: Settings) -> int:
    """0 when the run is done, 1 when it is not."""
    engine = make_engine(settings.database_url or "")
    try:
        caller = caller_of(options, settings, engine, "reprice")
        run_id = _ordered(engine, caller, options)
        with _worker(settings, options):
            done = _watched(engine, caller.org_id, run_id)
    except QuotingError as refused:
        print(f"reprice: {refused}", file=sys.stderr)
        return 1
    finally:
        engine.dispose()
    print("\n".join(lines(done)))
    return 0 if done.state == "done" else 1


def _ordered(engine: Engine, caller: Caller, options: argparse.Namespace) -> UUID:
    said = steer.Order(
        mode=options.mode,
        choice=options.choice,
        selection={"states": options.state} if options.state else {},
        price_list_id=options.price_list,
        price_date=options.price_date,
        threshold=options.threshold,
        limit_percent=options.percent,
        limit_amount=options.amount,
        margin_floor_percent=options.margin_floor,
    )
    with transaction(engine, caller.org_id) as session:
        caller.sign(session)
        return steer.order(session, said, Actor(datetime.now(UTC))).id


@contextmanager
def _worker(settings: Settings, options: argparse.Namespace) -> Iterator[None]:
    if options.no_worker:
        yield
        return
    with worker_process(settings, LOG_LEVEL="error"):  # its lines would run through the bar
        yield


def _watched(engine: Engine, org_id: UUID, run_id: UUID) -> Repricing:
    """The run once it is over; what is done of it is shown meanwhile."""
    with tqdm(
        total=100.0,
        desc="repriced",
        bar_format=BAR,
        disable=None,
    ) as bar:
        while True:
            with transaction(engine, org_id) as session:
                found = steer.get(session, run_id)
            progress = steer.progress(found, datetime.now(UTC))
            bar.set_postfix_str(f"{found.visited} quotes, {progress.quotes_per_s or 0:.0f}/s", refresh=False)
            bar.update(progress.percent - bar.n)
            if found.state in OVER:
                return found
            time.sleep(POLL_S)


def lines(found: Repricing) -> Sequence[str]:
    """The counts, and what the run came to, as text."""
    told = [f"Repricing {found.id}: {found.state}{f', {found.failure}' if found.failure else ''}"]
    counts = {
        "selected": found.selected or 0,
        "visited": found.visited,
        "changed": found.changed,
        "drafts written": found.revised,
        "within limits": found.within_limits,
        "conflicts": found.conflicts,
        "cannot be repriced": found.unpriceable,
    }
    told += [f"  {name:20} {count:>12,}" for name, count in counts.items()]
    summary: dict[str, Any] = found.summary or {}
    money = {
        "moved_gross": "open quotes move by",
        "exposure": "offers cost more by",
        "accepted_lost_amount": "of it accepted work",
    }
    told += [
        f"  {words:20} {Decimal(summary[name]):>12,.2f}" for name, words in money.items() if name in summary
    ]
    if summary:
        told.append(f"  {'under the floor':20} {summary['under_floor']:>12,}")
    told += [_mover(one) for one in summary.get("movers", ())]
    return told


def _mover(one: Mapping[str, Any]) -> str:
    old, new = Decimal(one["old_gross"]), Decimal(one["new_gross"])
    return f"  {one['number'] or '':18} {one['state']:10} {old:>12,.2f} -> {new:>12,.2f}"
