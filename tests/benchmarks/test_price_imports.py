"""Memory and time of price files of 100,000 rows, in a process of their own (pytest -m full -s).

Time is told beside the least that any import of these rows must do: the CSV file read, the rows copied into
a temporary table, and from there inserted with the keys and triggers of the prices, nothing looked at.
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
from typing import Any
from uuid import UUID

import pytest
from pytest_benchmark.fixture import BenchmarkFixture
from sqlalchemy import Engine, insert, text

from service.store import keys
from service.store.ids import new_id
from service.store.models import ProductRow, Supplier
from service.store.session import open_session
from tests.benchmarks.ratios import note
from tests.conftest import make_org
from tests.factories import PriceListFactory
from tests.imports.samples import workbook

ROWS = 100_000
MOST_MB = 300
MOST_TIMES = {"csv": 3, "xlsx": 9}
"""Measured 1.8 and 5.8 on two cores under load. Beside the insertion the rows are matched, checked and held
against the prices in force, in sets; a workbook's cells are besides parsed twice, bounds first, in Python."""
PEPPER = "a pepper for benchmarks only, of no use elsewhere"
CHILD = """
import json, re, sys, time
from service.__main__ import main
start = time.perf_counter()
status = main(sys.argv[1:])
peak = int(re.search(r"VmHWM:\\s*([0-9]+)", open("/proc/self/status").read())[1]) // 1024
spent = {"seconds": time.perf_counter() - start, "cpu": time.process_time()}
print(json.dumps({"status": status, "mb": peak, **spent}))
"""
# VmHWM is the peak of this process; getrusage's would count the one that it was forked from
HEAD = ("Code", "Pack size", "From packs", "Net price")


def table() -> Iterator[tuple[str, int, int, float]]:
    for n in range(ROWS):
        yield f"GR-{n}", 25, 1, 10 + n % 50 + n % 100 / 100


BARE = """
CREATE TEMPORARY TABLE bare (code text, pack_size numeric, min_packs integer, price numeric, id uuid)
ON COMMIT DROP
"""
INSERT = text("""
INSERT INTO price_items (org_id, id, price_list_id, product_id, pack_size, min_packs, price)
SELECT :org_id, bare.id, :list_id, products.id, bare.pack_size, bare.min_packs, bare.price
FROM bare JOIN products ON products.org_id = :org_id AND products.code = bare.code
""")


@pytest.fixture
def office(live_engine: Engine) -> tuple[UUID, str]:
    """An organisation that has every product of the files, one supplier, and a key."""
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
    return org_id, key


def least(engine: Engine, org_id: UUID, file: Path) -> float:
    """Seconds to read the rows, copy them and insert them into a draft."""
    with open_session(engine, org_id) as session:
        price_list = PriceListFactory(session=session)
        session.commit()
        start = perf_counter()
        driver: Any = session.connection().connection.driver_connection
        with file.open(newline="") as lines, driver.cursor() as cursor:
            rows = csv.reader(lines)
            next(rows)
            cursor.execute(BARE)
            with cursor.copy("COPY bare FROM STDIN") as copy:
                for code, size, packs, price in rows:
                    copy.write_row((code, Decimal(size), int(packs), Decimal(price), new_id()))
        session.execute(INSERT, {"org_id": org_id, "list_id": price_list.id})
        session.commit()
        return perf_counter() - start


@pytest.mark.full
@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_a_hundred_thousand_rows(
    kind: str,
    office: tuple[UUID, str],
    live_engine: Engine,
    database_url: str,
    tmp_path: Path,
    benchmark: BenchmarkFixture,
) -> None:
    org_id, key = office
    table_file, file = tmp_path / "prices.csv", tmp_path / f"prices.{kind}"
    with table_file.open("w", newline="") as lines:
        csv.writer(lines).writerows([HEAD, *((*row[:3], f"{row[3]:.2f}") for row in table())])
    if kind == "xlsx":
        file.write_bytes(workbook([HEAD, *table()]))
    environment = {**os.environ, "DATABASE_URL": database_url, "KEY_PEPPER": PEPPER}
    command = [sys.executable, "-c", CHILD, "import-prices", str(file), "--activate", "--key", key]
    kept = {"env": environment, "capture_output": True, "text": True, "check": True}
    done = benchmark.pedantic(subprocess.run, args=(command,), kwargs=kept, rounds=1)
    told = json.loads(done.stdout.splitlines()[-1])
    times = told["seconds"] / least(live_engine, org_id, table_file)
    print(kind, told, f"{times:.1f} times the least", os.getloadavg())
    note(
        benchmark,
        f"{ROWS} rows of {kind} imported",
        times,
        "times",
        MOST_TIMES[kind],
        "COPY and INSERT of them",
    )
    note(benchmark, f"memory of importing {kind}", told["mb"], "MB", MOST_MB)
    assert f"{ROWS} accepted, 0 rejected" in done.stdout
    assert told["status"] == 0
    assert told["mb"] < MOST_MB
    assert times < MOST_TIMES[kind]
