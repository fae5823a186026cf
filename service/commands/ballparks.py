"""`ballparks fit` and `ballparks check`: models of the invented office, and how often they hold.

`fit` writes the models that the demo ships; `check` prices rooms that no model has seen and prints, by room
kind and size class, how many lie in the range. Both use the demo's prices, which are invented.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from pathlib import Path

from tqdm import tqdm

from service.ballpark.check import Checked, checked
from service.ballpark.distributions import distributions
from service.ballpark.generate import rooms
from service.ballpark.model import Model
from service.ballpark.sample import Sample
from service.commands.parsers import CHECK_SEED, FIT_SEED
from service.demo.seed import ORGANISATION, seed
from service.quoting.ballparks import refresh
from service.quoting.ballparks.engine import USUAL, Engine, priced
from service.quoting.ballparks.pack import packed
from service.settings import Settings, SettingsError
from service.store import ballparks as store
from service.store.engine import make_engine
from service.store.session import transaction

FILE = Path("service/demo/ballparks.npz")
CLAIM = "A claim about the engine that priced the generated rooms, not about jobs that were done."


def run(options: argparse.Namespace, settings: Settings) -> int:
    if not options.demo:
        raise SettingsError("ballparks works on the invented office: leave DATABASE_URL out")
    seed(settings)
    database = make_engine(settings.database_url or "")
    try:
        with transaction(database, ORGANISATION) as session:
            engine = refresh.engine_for(session, datetime.now(UTC))
            kept = {row.region: row.model for row in store.models(session)}
    finally:
        database.dispose()
    if options.what == "fit":
        samples = _drawn(engine, options.rooms, options.seed or FIT_SEED, options.processes)
        FILE.write_bytes(packed(refresh.fitted_models(samples), refresh.basis_of(engine)))
        print(f"{FILE}: {sum(map(len, samples.values()))} rooms, {FILE.stat().st_size} bytes")
        return 0
    samples = _drawn(engine, options.rooms, options.seed or CHECK_SEED, options.processes)
    print(report(Model.from_bytes(kept[USUAL]), samples))
    return 0


def _drawn(engine: Engine, count: int, seed_: int, processes: int) -> dict[str, Sample]:
    kinds = tqdm(distributions().kinds, desc=f"{count} rooms of each kind")
    return {kind: priced(engine, rooms(kind, count, seed_), processes) for kind in kinds}


def report(model: Model, samples: Mapping[str, Sample]) -> str:
    """A table by answered questions, kind and size class."""
    found = [row for kind, sample in samples.items() for row in checked(model, sample, kind)]
    lines = [
        f"Generator {model.generator}, fitted to {model.rooms} rooms. {CLAIM}",
        f"{'answered':24}{'kind':14}{'size':8}{'rooms':>7}{'inside %':>10}{'+- %':>7}{'width %':>9}",
    ]
    for answered in dict.fromkeys(row.answered for row in found):
        of_set = [row for row in found if row.answered == answered]
        lines += [*map(_line, of_set), _summary(of_set)]
    return "\n".join(lines)


def _line(row: Checked) -> str:
    figures = f"{100 * row.share:10.1f}{100 * row.two_errors:7.1f}{100 * row.width:9.1f}"
    return f"{row.answered:24}{row.kind:14}{row.size_class:8}{row.rooms:7}{figures}"


def _summary(rows: Iterable[Checked]) -> str:
    rows = list(rows)
    count = sum(row.rooms for row in rows)
    inside = 100 * sum(row.inside for row in rows) / count
    return f"{rows[0].answered:24}{'all':22}{count:7}{inside:10.1f}"
