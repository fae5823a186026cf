"""The assignment model on HiGHS: which option each lot takes, who is used, and who delivers free.

Binary x of each option, u of each seller used, f of each who delivers free, y of each system. Starts are not
handed over (HiGHS 1.16 then takes wrong ones for the optimum); one thread and a limit of nodes instead of a
clock, so that the same problem gives the same answer.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from math import ceil, isfinite

import highspy
import numpy as np

from service.cutting.highs import quiet_solver
from service.pricing.basket.problem import Problem
from service.pricing.basket.ranking import Choice

NODE_LIMIT = 5_000
_NOISE = 1e-6
_LEEWAY = 0.01
"""Of a minor unit, for the rounding of the relaxation."""
_INFINITY = highspy.kHighsInf


@dataclass(frozen=True, slots=True)
class Found:
    """The choice that the model proposes, None where it has none; `least` is its bound on what any other is
    judged at, None where there is no choice at all."""

    choice: Choice | None
    least: int | None
    steps: int = 0
    """Of the simplex method."""


@dataclass(frozen=True, slots=True)
class Relaxed:
    """What the linear relaxation is judged at, and by how much each option's reduced cost adds to it; exact
    but for `slack`."""

    least: float
    reduced: tuple[tuple[float, ...], ...]
    slack: float

    def within(self, problem: Problem, width: float) -> Problem:
        """The problem with the options of no more reduced cost than `width`."""
        lots = (
            tuple(option for option, more in zip(lot, costs, strict=True) if more <= width)
            for lot, costs in zip(problem.lots, self.reduced, strict=True)
        )
        return problem._replace(lots=tuple(lots))


@dataclass
class _Rows:
    """Constraints as they are added: lower <= sum of value x column <= upper."""

    lower: list[float] = field(default_factory=list)
    upper: list[float] = field(default_factory=list)
    starts: list[int] = field(default_factory=list)
    columns: list[int] = field(default_factory=list)
    values: list[float] = field(default_factory=list)

    def add(self, lower: float, upper: float, terms: Iterable[tuple[int, float]]) -> None:
        self.lower.append(lower)
        self.upper.append(upper)
        self.starts.append(len(self.columns))
        for column, value in terms:
            self.columns.append(column)
            self.values.append(value)


def assign(problem: Problem, unlike: Choice | None = None) -> Found:
    """The best choice, or the best that is not `unlike`."""
    model = _Model(problem)
    if unlike is not None:
        model.forbid(unlike)
    return model.solve()


def relaxation(problem: Problem) -> Relaxed | None:
    """The linear relaxation; None where even that has no solution."""
    return _Model(problem).relaxed()


class _Model:
    def __init__(self, problem: Problem) -> None:
        self._problem = problem
        self._scale = min(seller.weight for seller in problem.sellers)  # back to about minor units
        self._first: list[int] = []
        self._costs: list[float] = []
        self._rows = _Rows()
        self._add_columns()
        self._add_lots()
        for number in range(len(problem.sellers)):
            self._add_seller(number)
        if problem.most is not None:
            used = ((self._used + number, 1.0) for number in range(len(problem.sellers)))
            self._rows.add(0.0, float(problem.most), used)

    def _add_columns(self) -> None:
        """Options lot by lot, then sellers used, then those who deliver free, then systems."""
        problem, scale = self._problem, self._scale
        for lot in problem.lots:
            self._first.append(len(self._costs))
            self._costs.extend(problem.judged(option) / scale for option in lot)
        self._used = len(self._costs)
        self._costs.extend(s.weight * (s.carry_in + s.delivery) / scale for s in problem.sellers)
        self._free = len(self._costs)
        self._costs.extend(-s.weight * s.delivery / scale for s in problem.sellers)
        self._system = len(self._costs)
        self._costs.extend(0.0 for _ in problem.systems)

    def _add_lots(self) -> None:
        """One option a lot; where it is of a system, an option of the one system."""
        systems = self._problem.systems
        if systems != (None,):
            self._rows.add(1.0, 1.0, ((self._system + place, 1.0) for place in range(len(systems))))
        for first, lot in zip(self._first, self._problem.lots, strict=True):
            if lot[0].system is None:
                self._rows.add(1.0, 1.0, ((first + place, 1.0) for place in range(len(lot))))
                continue
            for number, system in enumerate(systems):
                same = [(first + place, 1.0) for place, option in enumerate(lot) if option.system == system]
                self._rows.add(0.0, 0.0, [*same, (self._system + number, -1.0)])
            self._rows.add(1.0, 1.0, ((first + place, 1.0) for place in range(len(lot))))

    def _add_seller(self, number: int) -> None:
        """Used where any option is; delivering free, and taking the order, where goods reach the limit."""
        seller, used, free = self._problem.sellers[number], self._used + number, self._free + number
        goods: list[tuple[int, float]] = []
        for first, lot in zip(self._first, self._problem.lots, strict=True):
            own = [
                (first + i, part.goods)
                for i, o in enumerate(lot)
                for part in o.parts
                if part.seller == number
            ]
            goods.extend(own)
            if own:
                columns = dict.fromkeys(column for column, _ in own)
                self._rows.add(-_INFINITY, 0.0, [*((column, 1.0) for column in columns), (used, -1.0)])
        self._rows.add(-_INFINITY, 0.0, [(free, 1.0), (used, -1.0)])
        if seller.free_over is None or not seller.delivery:
            self._rows.add(0.0, 0.0, [(free, 1.0)])
        elif seller.free_over > 0:
            self._reach(goods, seller.free_over, free)
        if seller.minimum:
            self._reach(goods, seller.minimum, used)

    def _reach(self, goods: Sequence[tuple[int, float]], limit: int, column: int) -> None:
        """The goods are worth the limit where the column is one."""
        parts: dict[int, float] = {}
        for option, value in goods:
            parts[option] = parts.get(option, 0.0) + value / limit
        self._rows.add(0.0, _INFINITY, [*parts.items(), (column, -1.0)])

    def forbid(self, choice: Choice) -> None:
        """At least one lot takes another option, unless an option of the choice is none of the model's."""
        places = []
        for first, lot, option in zip(self._first, self._problem.lots, choice, strict=True):
            if option not in lot:
                return
            places.append((first + lot.index(option), 1.0))
        self._rows.add(0.0, float(len(choice) - 1), places)

    def solve(self) -> Found:
        highs = quiet_solver()
        highs.setOptionValue("mip_max_nodes", NODE_LIMIT)
        highs.setOptionValue("mip_rel_gap", 0.0)
        highs.setOptionValue("mip_abs_gap", (1.0 - _NOISE) / self._scale)
        highs.setOptionValue("mip_feasibility_tolerance", 1e-9)
        highs.passModel(self._lp())
        highs.run()
        status = highs.getModelStatus()
        steps = max(highs.getInfo().simplex_iteration_count, 0)
        if status == highspy.HighsModelStatus.kInfeasible:
            return Found(None, None, steps)
        dual = highs.getInfo().mip_dual_bound * self._scale
        least = ceil(dual - _NOISE * self._scale) if isfinite(dual) else 0
        return Found(self._choice(highs.getSolution().col_value), least, steps)

    def relaxed(self) -> Relaxed | None:
        highs, lp = quiet_solver(), self._lp()
        lp.integrality_ = []
        highs.passModel(lp)
        highs.run()
        if highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return None
        costs = [cost * self._scale for cost in highs.getSolution().col_dual]
        reduced = (
            tuple(costs[first : first + len(lot)])
            for first, lot in zip(self._first, self._problem.lots, strict=True)
        )
        least = highs.getInfo().objective_function_value * self._scale
        return Relaxed(least, tuple(reduced), _LEEWAY * self._scale)

    def _choice(self, values: Sequence[float]) -> Choice | None:
        picked = []
        for first, lot in zip(self._first, self._problem.lots, strict=True):
            places = (
                [place for place in range(len(lot)) if values[first + place] > 0.5] if len(values) else []
            )
            if len(places) != 1:
                return None
            picked.append(lot[places[0]])
        return tuple(picked)

    def _lp(self) -> highspy.HighsLp:
        rows, columns = self._rows, len(self._costs)
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = columns, len(rows.lower)
        lp.col_cost_ = np.array(self._costs)
        lp.col_lower_, lp.col_upper_ = np.zeros(columns), np.ones(columns)
        lp.row_lower_, lp.row_upper_ = np.array(rows.lower), np.array(rows.upper)
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lp.a_matrix_.start_ = np.array([*rows.starts, len(rows.columns)], dtype=np.int32)
        lp.a_matrix_.index_ = np.array(rows.columns, dtype=np.int32)
        lp.a_matrix_.value_ = np.array(rows.values)
        lp.integrality_ = [highspy.HighsVarType.kInteger] * columns
        return lp
