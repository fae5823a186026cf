"""The solver as this service wants it: silent, on one thread, the same answer each time."""

from __future__ import annotations

from typing import Any

from highspy._core import _Highs


def quiet_solver() -> Any:
    """A new HiGHS. The class around `_Highs` prints a banner to standard output, so it is not used."""
    highs: Any = _Highs()
    highs.setOptionValue("output_flag", False)
    highs.setOptionValue("threads", 1)
    highs.setOptionValue("parallel", "off")
    return highs
