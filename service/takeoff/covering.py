"""How often each pattern of pieces is cut: the linear and the whole-number programme, solved by HiGHS.

One thread and no clock, so that the same pieces give the same answer on every run.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import highspy
import numpy as np

from service.cutting.highs import quiet_solver

_NOISE = 1e-4  # of a tile: far above the solver's tolerances, far below a tile


@dataclass(frozen=True)
class Demand:
    """Rows `counts` that must be covered, and the columns as (row, amount) pairs; each column is a tile."""

    counts: Sequence[float]
    columns: Sequence[Sequence[tuple[int, float]]]


def relaxed(demand: Demand) -> int:
    """Whole tiles that the linear programme asks for at least."""
    highs = _loaded(demand)
    highs.run()
    if highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        return 0
    tiles: float = highs.getInfo().objective_function_value
    return math.ceil(tiles - _NOISE)


def fewest(demand: Demand, least: int, most: int, node_limit: int) -> tuple[int, ...] | None:
    """How often each column is taken in a choice of less than `most` columns, the fewest that are found
    within `node_limit` nodes; None where none is. No choice takes less than `least`."""
    highs, columns = _loaded(demand), len(demand.columns)
    every = np.arange(columns, dtype=np.int32)
    highs.setOptionValue("mip_max_nodes", node_limit)
    highs.setOptionValue("mip_abs_gap", 1.0 - _NOISE)
    highs.addRow(float(least), most - 1.0, columns, every, np.ones(columns))
    whole = np.full(columns, highspy.HighsVarType.kInteger.value, dtype=np.uint8)
    highs.changeColsIntegrality(columns, every, whole)
    highs.run()
    if highs.getInfo().primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
        return None
    return tuple(round(x) for x in highs.getSolution().col_value)


def _loaded(demand: Demand) -> Any:
    highs = quiet_solver()
    highs.passModel(_programme(demand))
    return highs


def _programme(demand: Demand) -> Any:
    rows, columns = len(demand.counts), len(demand.columns)
    entries = [entry for column in demand.columns for entry in column]
    lp = highspy.HighsLp()
    lp.num_row_, lp.num_col_ = rows, columns
    lp.col_cost_ = np.ones(columns)
    lp.col_lower_, lp.col_upper_ = np.zeros(columns), np.full(columns, highspy.kHighsInf)
    lp.row_lower_ = np.array(demand.counts, dtype=np.float64)
    lp.row_upper_ = np.full(rows, highspy.kHighsInf)
    lp.a_matrix_.format_ = highspy.MatrixFormat.kColwise
    lp.a_matrix_.start_ = np.cumsum([0, *map(len, demand.columns)]).astype(np.int32)
    lp.a_matrix_.index_ = np.array([row for row, _ in entries], dtype=np.int32)
    lp.a_matrix_.value_ = np.array([amount for _, amount in entries], dtype=np.float64)
    return lp
