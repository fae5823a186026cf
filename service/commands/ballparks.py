"""`ballparks fit` and `ballparks check`: models of the invented office, and how often they hold.

`fit` writes the models that the demo ships; `check` prices rooms that no model has seen and prints, by room
kind and size class, how many lie in the range. Both use the demo's prices, which are invented.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path

from tqdm import tqdm

from service.ballpark.check import Checked, checked
from service.ballpark.distributions import distributions
from service.ballpark.model import Model
from service.ballpark.sample import Sample
from service.commands.kept_prices import KeptPrices
from service.commands.parsers import CHECK_SEED, FIT_SEED
from service.demo.seed import ORGANISATION, seed
from service.quoting.ballparks import refresh
from service.quoting.ballparks.engine import USUAL
from service.quoting.ballparks.pack import packed, unpacked
from service.settings import Settings, SettingsError
from service.store.engine import make_engine
from service.store.session import transaction

FILE = Path("service/demo/ballparks.npz")
NICE = 10
SHARE = 400
"""Rooms of a kind before the next kind has its turn."""
STALE = "The model was fitted to other prices or values: fit it anew.\n"
CLAIM = "A claim about the engine that priced the generated rooms, not about jobs that were done."


def run(options: argparse.Namespace, settings: Settings) -> int:
    if not options.demo:
        raise SettingsError("ballparks works on the invented office: leave DATABASE_URL out")
    if options.kind and options.what == "fit":
        raise SettingsError("--kind is for check: models are fitted to all kinds together")
    seed(settings)
    database = make_engine(settings.database_url or "")
    try:
        with transaction(database, ORGANISATION) as session:
            engine = refresh.engine_for(session, datetime.now(UTC))
    finally:
        database.dispose()
    os.nice(NICE)
    kept = KeptPrices(options.keep, engine, options.processes)
    seed_ = options.seed or (FIT_SEED if options.what == "fit" else CHECK_SEED)
    kinds = [options.kind] if options.kind else list(distributions().kinds)
    _price(kept, kinds, seed_, options.rooms)
    samples = {kind: kept.sample(kind, seed_) for kind in kinds}
    if options.what == "fit":
        FILE.write_bytes(packed(refresh.fitted_models(samples), refresh.basis_of(engine)))
        print(f"{FILE}: {sum(map(len, samples.values()))} rooms, {FILE.stat().st_size} bytes")
    else:
        models, basis = unpacked(FILE.read_bytes())
        print(report(Model.from_bytes(models[USUAL]), samples))
        print("" if basis == refresh.basis_of(engine) else STALE, end="")
    return 0


def _price(kept: KeptPrices, kinds: Sequence[str], seed_: int, count: int) -> None:
    """A share of every kind in turn, so that what is kept when it is stopped holds some of each."""
    missing = sum(kept.missing(kind, seed_, count) for kind in kinds)
    with tqdm(total=missing, desc="rooms") as bar:
        for upto in range(SHARE, count + SHARE, SHARE):
            for kind in kinds:
                for _ in kept.go_on(kind, seed_, min(upto, count)):
                    bar.update()


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
