"""`python -m tests.topology`: start everything, price the demo's job through the proxy, tell what ran."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from tests.topology import job
from tests.topology.run import missing, topology


def main() -> int:
    if missing():
        print(f"not on this machine: {', '.join(missing())}", file=sys.stderr)
        return 1
    with tempfile.TemporaryDirectory() as folder, topology(Path(folder)) as top:
        print(f"running: {', '.join(top.running)}; the proxy at {top.url}")
        key = job.seeded(top)
        quote = job.demo_quote(top, key)
        print(f"quote {quote['number']}: {quote['totals']['gross']} {quote['currency']}")
        print(f"jobs: {job.jobs_done(top)}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
