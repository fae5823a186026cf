"""Memory and time of price files of 100,000 rows, in a process of their own (pytest -m full -s).

Time is told beside a plain reading of the same CSV file: every row parted, its price made a Decimal.
"""

from __future__ import annotations

import csv
import json
import os
import subprocess
import sys
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from time import perf_counter

import pytest
from sqlalchemy import Engine, insert

from service.store import keys
from service.store.ids import new_id
from service.store.models import ProductRow, Supplier
from service.store.session import open_session
from tests.conftest import make_org
from tests.imports.samples import workbook

ROWS = 100_000
MOST_MB = 300
MOST_TIMES = {"csv": 150, "xlsx": 500}  # a plain reading takes about 0.05 s; measured 90 and 117
PEPPER = "a pepper for benchmarks only, of no use elsewhere"
CHILD = """
import json, re, sys, time
from service.__main__ import main
start = time.perf_counter()
status = main(sys.argv[1:])
peak = int(re.search(r"VmHWM:\\s*([0-9]+)", open("/proc/self/status").read())[1]) // 1024
print(json.dumps({"status": status, "seconds": time.perf_counter() - start, "mb": peak}))
"""
# VmHWM is the peak of this process; getrusage's would count the one that it was forked from
HEAD = ("Code", "Pack size", "From packs", "Net price")


def table() -> Iterator[tuple[str, int, int, float]]:
    for n in range(ROWS):
        yield f"GR-{n}", 25, 1, 10 + n % 50 + n % 100 / 100


@pytest.fixture
def key(live_engine: Engine) -> str:
    """The key of an organisation that has every product of the files, and one supplier."""
    org_id, key = new_id(), f"key-of-{new_id()}"
    kept = {"org_id": org_id, "role": "grout", "unit": "kg"}
    with open_session(live_engine, org_id) as session:
        session.add(make_org(org_id))
        session.flush()
        keys.add_key(session, key, PEPPER, "benchmark", ["prices"])
        session.add(Supplier(org_id=org_id, name="Invented supplier", currency="USD"))
        products = [{**kept, "id": new_id(), "name": f"Grout {n}", "code": f"GR-{n}"} for n in range(ROWS)]
        session.execute(insert(ProductRow), products)
        session.commit()
    return key


def plain_reading(file: Path) -> float:
    """Seconds to read every row and make its price a Decimal."""
    start = perf_counter()
    with file.open(newline="") as lines:
        rows = csv.reader(lines)
        next(rows)
        assert sum(Decimal(row[3]) for row in rows) > 0
    return perf_counter() - start


@pytest.mark.full
@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_a_hundred_thousand_rows(kind: str, key: str, database_url: str, tmp_path: Path) -> None:
    text, file = tmp_path / "prices.csv", tmp_path / f"prices.{kind}"
    with text.open("w", newline="") as lines:
        csv.writer(lines).writerows([HEAD, *((*row[:3], f"{row[3]:.2f}") for row in table())])
    if kind == "xlsx":
        file.write_bytes(workbook([HEAD, *table()]))
    environment = {**os.environ, "DATABASE_URL": database_url, "KEY_PEPPER": PEPPER}
    command = [sys.executable, "-c", CHILD, "import-prices", str(file), "--activate", "--key", key]
    done = subprocess.run(command, env=environment, capture_output=True, text=True, check=True)
    told = json.loads(done.stdout.splitlines()[-1])
    times = told["seconds"] / plain_reading(text)
    print(kind, told, f"{times:.0f} times a plain reading")  # noqa: T201
    assert f"{ROWS} accepted, 0 rejected" in done.stdout
    assert told["status"] == 0
    assert told["mb"] < MOST_MB
    assert times < MOST_TIMES[kind]
