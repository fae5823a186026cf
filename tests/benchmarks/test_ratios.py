"""The table of ratios tells the worst of each, and which limits were not held."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from tests.benchmarks.__main__ import table
from tests.benchmarks.ratios import NOTED, Ratio, noted


def run_of(*ratios: Ratio) -> dict[str, Any]:
    return {"extra_info": {NOTED: [asdict(ratio) for ratio in ratios]}}


def test_the_worst_of_several_runs_counts() -> None:
    fast, slow = (Ratio("cut", figure, "times", 5, "first fit") for figure in (2.0, 6.0))
    quick, slack = (Ratio("counted", figure, "times quicker", 20, least=True) for figure in (90.0, 25.0))
    found = noted([run_of(fast, slack), run_of(slow, quick), {"extra_info": {}}])
    assert found == [slow, slack]
    lines = list(table(found))
    assert "at most 5" in lines[0]
    assert "NOT HELD" in lines[0]
    assert lines[0].endswith("first fit")
    assert "at least 20" in lines[1]
    assert "NOT HELD" not in lines[1]
