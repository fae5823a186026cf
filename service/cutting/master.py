"""How often each pattern is cut: the linear and the whole-number programme, both solved by HiGHS.

One thread and no clock, so that the same problem gives the same answer on every run.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil, isfinite
from typing import Any

import highspy
import numpy as np

from service.cutting.effort import PIVOT, PROGRAMME, Effort
from service.cutting.highs import quiet_solver
from service.cutting.problem import Counts, Partings, Problem, Stick, dearest

_TOLERANCE = 1e-9
_NOISE = 1e-6
_PRIMAL = 4


@dataclass(frozen=True)
class Prices:
    """Solution of the linear programme: its cost, how often each column is cut, and what one more piece of
    each kind (>= 0) and one more stick of each stock (<= 0) would change."""

    cost: float
    amounts: tuple[float, ...]
    pieces: tuple[float, ...]
    stocks: tuple[float, ...]


@dataclass(frozen=True)
class Choice:
    """Outcome of the whole-number programme: the sticks found and a cost that no choice can go below."""

    sticks: list[Stick] | None
    bound: int


class Master:
    """The linear programme over the columns offered so far: every piece covered, no stock overdrawn, and
    where there are runs to be parted, these covered too."""

    def __init__(self, problem: Problem, partings: Partings | None = None) -> None:
        self._problem = problem
        self._limited = _limited(problem)
        self._highs = _solver()
        self._highs.setOptionValue(
            "simplex_strategy", _PRIMAL
        )  # a new column leaves the last answer feasible
        _add_rows(self._highs, problem, partings)

    def add_outside(self, cost: int) -> None:
        """A column that covers everything at a cost above any plan's, where no plan is known yet."""
        kinds = len(self._problem.counts)
        values = np.array(self._problem.counts, dtype=np.float64)
        self._highs.addCol(
            float(cost), 0.0, highspy.kHighsInf, kinds, np.arange(kinds, dtype=np.int32), values
        )

    def add(self, sticks: Iterable[Stick]) -> None:
        _add_columns(self._highs, self._problem, self._limited, list(sticks))

    def solve(self, effort: Effort) -> Prices:
        self._highs.run()
        steps = self._highs.getInfo().simplex_iteration_count
        effort.spend(PROGRAMME + steps * PIVOT)
        solution = self._highs.getSolution()
        duals, kinds = list(solution.row_dual), len(self._problem.counts)
        stocks = [0.0] * len(self._problem.limits)
        for row, stock in enumerate(self._limited):
            stocks[stock] = min(0.0, duals[kinds + row])
        pieces = tuple(max(0.0, dual) for dual in duals[:kinds])
        cost = self._highs.getInfo().objective_function_value
        return Prices(cost, tuple(solution.col_value), pieces, tuple(stocks))


def choose(
    problem: Problem, patterns: Sequence[Stick], known: Sequence[Stick] | None, least: int, node_limit: int
) -> Choice:
    """The cheapest whole-number choice among `patterns` and the sticks of a `known` plan.

    The plan itself is not handed over as a start: HiGHS 1.16 drops the cost of columns fixed by its presolve
    from a start's, and then takes the start for better than the optimum.
    The search ends after `node_limit` nodes; `least` is a proven bound to start from.
    """
    columns = list(dict.fromkeys((*patterns, *(known or ()))))
    highs = _whole_solver(node_limit)
    _add_rows(highs, problem)
    _run_whole(highs, problem, columns)
    return _choice(highs, problem, columns, least)


def choose_parted(
    problem: Problem, patterns: Sequence[Stick], partings: Partings, node_limit: int
) -> Counts | None:
    """The pieces of the partings in the cheapest whole-number choice found among the patterns."""
    highs = _whole_solver(node_limit)
    _add_rows(highs, problem, partings)
    _run_whole(highs, problem, patterns)
    amounts = [round(amount) for amount in list(highs.getSolution().col_value)[: len(partings.ways)]]
    chosen = Counter[int]()
    for amount, (run, _) in zip(amounts, partings.ways, strict=False):
        chosen[run] += amount
    if any(chosen[run] != count for run, count in enumerate(partings.runs)):
        return None
    wanted = list(partings.fixed)
    for amount, (_, pieces) in zip(amounts, partings.ways, strict=True):
        for kind, count in pieces:
            wanted[kind] += amount * count
    return tuple(wanted)


def _run_whole(highs: Any, problem: Problem, patterns: Sequence[Stick]) -> None:
    _add_columns(highs, problem, _limited(problem), patterns)
    _make_whole(highs, highs.getNumCol())
    highs.run()


def _choice(highs: Any, problem: Problem, columns: Sequence[Stick], least: int) -> Choice:
    status = highs.getModelStatus()
    if status == highspy.HighsModelStatus.kInfeasible:
        return Choice(None, dearest(problem) + 1)
    amounts = highs.getSolution().col_value
    sticks = [stick for stick, x in zip(columns, amounts, strict=False) for _ in range(round(x))]
    if not problem.covers(sticks):
        return Choice(None, least)
    optimal = status == highspy.HighsModelStatus.kOptimal
    return Choice(sticks, problem.cost(sticks) if optimal else _bound(highs, least))


def _bound(highs: Any, least: int) -> int:
    dual = highs.getInfo().mip_dual_bound
    return max(least, ceil(dual - _NOISE)) if isfinite(dual) else least


def _make_whole(highs: Any, columns: int) -> None:
    index = np.arange(columns, dtype=np.int32)
    whole = np.full(columns, highspy.HighsVarType.kInteger.value, dtype=np.uint8)
    highs.changeColsIntegrality(columns, index, whole)


def _solver() -> Any:
    highs = quiet_solver()
    highs.setOptionValue("primal_feasibility_tolerance", _TOLERANCE)
    highs.setOptionValue("dual_feasibility_tolerance", _TOLERANCE)
    return highs


def _whole_solver(node_limit: int) -> Any:
    highs = _solver()
    highs.setOptionValue("mip_max_nodes", node_limit)
    highs.setOptionValue("mip_rel_gap", 0.0)
    highs.setOptionValue("mip_abs_gap", 1.0 - _NOISE)  # costs are whole numbers
    for costly in ("root_reduced_cost", "rens", "rins"):  # searches of their own inside the first node
        highs.setOptionValue(f"mip_heuristic_run_{costly}", False)
    return highs


def _limited(problem: Problem) -> list[int]:
    return [stock for stock, limit in enumerate(problem.limits) if limit is not None]


def _add_rows(highs: Any, problem: Problem, partings: Partings | None = None) -> None:
    nothing = (0, np.array([], dtype=np.int32), np.array([], dtype=np.float64))
    for count in partings.fixed if partings else problem.counts:
        highs.addRow(float(count), highspy.kHighsInf, *nothing)
    for limit in problem.limits:
        if limit is not None:
            highs.addRow(-highspy.kHighsInf, float(limit), *nothing)
    if partings:
        _add_partings(highs, partings, len(problem.counts) + len(_limited(problem)))


def _add_partings(highs: Any, partings: Partings, first: int) -> None:
    """A row for each run, and a column for each way, which covers its run and takes its pieces away."""
    for count in partings.runs:
        nothing = (0, np.array([], dtype=np.int32), np.array([], dtype=np.float64))
        highs.addRow(float(count), float(count), *nothing)
    for run, pieces in partings.ways:
        entries = {kind: -float(count) for kind, count in pieces} | {first + run: 1.0}
        index, values = np.array(list(entries), dtype=np.int32), np.array(list(entries.values()))
        highs.addCol(0.0, 0.0, highspy.kHighsInf, len(entries), index, values)


def _add_columns(highs: Any, problem: Problem, limited: Sequence[int], sticks: Sequence[Stick]) -> None:
    """All at once, which is far quicker than one by one."""
    rows = {stock: len(problem.counts) + place for place, stock in enumerate(limited)}
    starts: list[int] = []
    index: list[int] = []
    values: list[int] = []
    for stock, pieces in sticks:
        starts.append(len(index))
        own = [kind for kind, count in enumerate(pieces) if count]
        index += own
        values += [pieces[kind] for kind in own]
        if stock in rows:
            index.append(rows[stock])
            values.append(1)
    if sticks:
        costs = np.array([problem.costs[stock] for stock, _ in sticks], np.float64)
        none, most = np.zeros(len(sticks)), np.full(len(sticks), highspy.kHighsInf)
        entries = np.array(starts, np.int32), np.array(index, np.int32), np.array(values, np.float64)
        highs.addCols(len(sticks), costs, none, most, len(index), *entries)
