"""Ballpark models and the prices that they rest on: fitted anew by a job, noticed by every process, left off
when the worker stops."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from sqlalchemy import Engine, select, text

from service import serve
from service.ballpark.sample import Sample
from service.demo.seed import ORGANISATION
from service.jobs.worker import run_worker
from service.quoting.ballparks import refresh
from service.quoting.ballparks.desk import Desk, KeptModel
from service.quoting.ballparks.fresh import OLDEST_S
from service.settings import Settings, load_settings
from service.store import price_lists, rows
from service.store.models import PriceItem, PriceList
from service.store.queue import REFRESH_BALLPARKS, enqueue_parts
from service.store.session import transaction
from tests.conftest import PEPPER
from tests.factories import PriceItemFactory, PriceListFactory

NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)
MOST_PARTS = 100_000
SOON_S = 10.0
"""By when a stop has ended a fit on a busy machine; alone it takes as long as one room."""


@pytest.fixture
def fits(monkeypatch: pytest.MonkeyPatch, invented_office: str, live_engine: Engine) -> list[int]:
    """Fits that price no room and give the models that were there; how many rooms each was to draw."""
    counts: list[int] = []
    models = {region: kept.model.to_bytes() for region, kept in held(live_engine).items()}

    def draw(engine: Any, count: int, seed: int, going_on: Callable[[], None]) -> dict[str, Sample]:
        counts.append(count)
        return {}

    monkeypatch.setattr(refresh, "drawn", draw)
    monkeypatch.setattr(refresh, "fitted_models", lambda samples, going_on: models)
    return counts


def held(engine: Engine) -> dict[str, KeptModel]:
    return dict(Desk(engine, PEPPER).models(ORGANISATION))


def activate_a_list(engine: Engine) -> None:
    """Of one product; it stands in place of its supplier's list before."""
    with transaction(engine, ORGANISATION) as session:
        item = session.scalars(select(PriceItem)).first()
        assert item is not None
        old = rows.find(session, PriceList, item.price_list_id)
        assert old is not None
        new = PriceListFactory(session=session, supplier_id=old.supplier_id, valid_from=date(2026, 5, 1))
        PriceItemFactory(session=session, price_list=new, product_id=item.product_id)
        price_lists.activate(session, new.id, 1)


def test_a_change_of_prices_fits_anew_and_nothing_else_does(live_engine: Engine, fits: list[int]) -> None:
    refresh.refresh(live_engine, ORGANISATION, NOW)
    before, drawn = held(live_engine), len(fits)
    assert not refresh.refresh(live_engine, ORGANISATION, NOW)
    assert len(fits) == drawn
    activate_a_list(live_engine)
    assert refresh.refresh(live_engine, ORGANISATION, NOW)
    assert fits[drawn:] == [refresh.ROOMS]
    after = held(live_engine)
    assert after.keys() == before.keys()
    assert {kept.id for kept in after.values()}.isdisjoint(kept.id for kept in before.values())
    assert {kept.price_date for kept in after.values()} == {NOW.date()}


def test_every_process_notices_new_models_within_five_seconds(live_engine: Engine, fits: list[int]) -> None:
    """Two desks stand for two processes, each with its clock; before, they answer from what they hold."""
    now = [100.0]
    desks = [Desk(live_engine, PEPPER) for _ in range(2)]
    for desk in desks:
        desk._models._clock = lambda: now[0]
    before = [desk.models(ORGANISATION)[""].id for desk in desks]
    activate_a_list(live_engine)
    assert refresh.refresh(live_engine, ORGANISATION, NOW)
    assert [desk.models(ORGANISATION)[""].id for desk in desks] == before
    now[0] += OLDEST_S
    after = [desk.models(ORGANISATION)[""].id for desk in desks]
    assert len(set(after)) == 1
    assert set(after).isdisjoint(before)
    assert OLDEST_S < 5


def test_an_activated_list_has_the_models_looked_at_after_all_else_and_one_at_a_time(
    live_engine: Engine, batch: Engine, invented_office: str, database_url: str
) -> None:
    activate_a_list(live_engine)
    run_worker(replace(load_settings({}), database_url=database_url), until_idle=True)
    with transaction(live_engine, ORGANISATION) as session:
        enqueue_parts(session, "office:some_task", {}, [MOST_PARTS])
    assert refresh.enqueue_due(batch) == 0  # it waits already
    with live_engine.connect() as connection:
        found = connection.execute(
            text(
                "SELECT queue_name, priority, lock, args FROM jobs.procrastinate_jobs WHERE task_name = :task"
            ),
            {"task": REFRESH_BALLPARKS},
        ).all()
        others = connection.scalar(
            text("SELECT min(priority) FROM jobs.procrastinate_jobs WHERE task_name <> :task"),
            {"task": REFRESH_BALLPARKS},
        )
    ((queue, priority, lock, args),) = found
    assert (queue, args["org_id"]) == ("ballparks", str(ORGANISATION))
    assert priority < others
    assert str(ORGANISATION) in lock  # jobs of one lock run one after the other


def test_what_stops_a_fit_leaves_the_models_in_force(live_engine: Engine, invented_office: str) -> None:
    """After the first room, of which the stop is asked."""
    before = {kept.id for kept in held(live_engine).values()}
    activate_a_list(live_engine)
    with pytest.raises(InterruptedError):
        refresh.refresh(live_engine, ORGANISATION, NOW, going_on=_stop)
    assert {kept.id for kept in held(live_engine).values()} == before


def _stop() -> None:
    raise InterruptedError


@pytest.mark.parametrize("by", [signal.SIGTERM, pytest.param(signal.SIGINT, marks=pytest.mark.full)])
def test_a_stopped_worker_leaves_a_fit_to_the_next(
    by: signal.Signals, live_engine: Engine, batch: Engine, invented_office: str, database_url: str
) -> None:
    """A real worker in the midst of a fit that would take minutes."""
    activate_a_list(live_engine)
    assert refresh.enqueue_due(batch) == 1
    environment = {"DATABASE_URL": database_url, "PATH": "/usr/bin:/bin"}
    with subprocess.Popen([sys.executable, "-m", "service", "worker"], env=environment) as worker:
        try:
            _until(live_engine, "doing")
            time.sleep(0.5)
            worker.send_signal(by)
            assert worker.wait(timeout=SOON_S) in (0, 1, -by)
        finally:
            worker.kill()
    assert _status(live_engine) == "todo"


def _status(engine: Engine) -> str:
    asked = text("SELECT status::text FROM jobs.procrastinate_jobs WHERE task_name = :task")
    with engine.connect() as connection:
        return str(connection.scalar(asked, {"task": REFRESH_BALLPARKS}))


def _until(engine: Engine, status: str) -> None:
    for _ in range(600):
        if _status(engine) == status:
            return
        time.sleep(0.05)
    pytest.fail(f"never {status}")


STUBBORN = """
import os, pathlib, signal, time
for each in (signal.SIGTERM, signal.SIGINT):
    signal.signal(each, signal.SIG_IGN)
pathlib.Path("half").write_text(str(os.getpid()))
os.rename("half", "started")
time.sleep(60)
"""


@pytest.mark.parametrize("ending", [SystemExit, KeyboardInterrupt])
def test_a_worker_beside_the_service_that_will_not_stop_is_killed(
    ending: type[BaseException], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As gunicorn ends on SIGTERM and on Ctrl-C; the worker stands for one in a job of minutes."""
    package = tmp_path / "service"
    package.mkdir()
    (package / "__main__.py").write_text(STUBBORN, "utf-8")
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("PYTHONPATH", raising=False)
    settings = replace(load_settings({"DATABASE_URL": "postgresql://nowhere"}), graceful_timeout_s=1)
    with pytest.raises(ending):
        _serve_until(ending, settings, tmp_path / "started")
    assert time.time() - (tmp_path / "started").stat().st_mtime < SOON_S
    assert not _runs(int((tmp_path / "started").read_text()))


def _serve_until(ending: type[BaseException], settings: Settings, started: Path) -> None:
    with serve.worker_process(settings):
        while not started.exists():
            time.sleep(0.02)
        raise ending


def _runs(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    return True


def test_the_same_catalogue_under_other_ids_is_the_same_basis(
    live_engine: Engine, invented_office: str
) -> None:
    """Else models that were fitted elsewhere, as those of the demo, would never count as fitted."""
    with transaction(live_engine, ORGANISATION) as session:
        engine = refresh.engine_for(session, NOW)
    book = engine.book
    ids = {each.id: str(uuid4()) for each in (*book.suppliers, *book.products)}
    moved = replace(
        book,
        suppliers=tuple(replace(each, id=ids[each.id]) for each in book.suppliers),
        products=tuple(replace(each, id=ids[each.id]) for each in book.products),
        offers=tuple(
            replace(each, supplier=ids[each.supplier], product=ids[each.product]) for each in book.offers
        ),
    )
    basis = refresh.basis_of(engine)
    assert refresh.basis_of(replace(engine, book=moved)) == basis
    other = replace(book.offers[0], product=book.offers[1].product)
    changed = replace(book, offers=(other, *book.offers[1:]))
    assert refresh.basis_of(replace(engine, book=changed)) != basis
