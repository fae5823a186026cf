"""Rates without negative ones that leave the least sum of absolute deviations, as a linear programme.

Least absolute deviations, since one job with hours booked to the wrong site must not move every rate. Solved
in its dual (Koenker, Quantile Regression, 2005, ch. 6): maximise h'y where X'y <= 0 and |y_i| <= w_i. It has
as many rows as there are rates, whatever the number of jobs, the rates are its multipliers, and other weights
of the jobs are only other bounds, so that the last basis is the start of the next solution.
"""

from __future__ import annotations

from typing import Any

import highspy
import numpy as np
import numpy.typing as npt

from service.cutting.highs import quiet_solver

Floats = npt.NDArray[np.float64]


class LeastDeviations:
    """The programme for a design [rows x rates] and what was observed of each row."""

    def __init__(self, design: Floats, observed: Floats) -> None:
        self._rows = len(observed)
        self._highs: Any = quiet_solver()
        self._highs.passModel(_dual(design, observed))

    def rates(self, weights: Floats) -> Floats:
        """The rates (>= 0) with the least weighted sum of absolute deviations; `weights` are all above 0."""
        index = np.arange(self._rows, dtype=np.int32)
        self._highs.changeColsBounds(self._rows, index, -weights, weights)
        self._highs.run()
        if self._highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            raise ArithmeticError("the fit of the rates did not come to its optimum")
        multipliers: Floats = np.array(self._highs.getSolution().row_dual, dtype=np.float64)
        return np.maximum(-multipliers, 0.0, dtype=np.float64)


def _dual(design: Floats, observed: Floats) -> Any:
    rows, columns = design.shape
    model: Any = highspy.HighsLp()
    model.num_col_, model.num_row_ = rows, columns
    model.col_cost_ = -observed
    model.col_lower_, model.col_upper_ = -np.ones(rows), np.ones(rows)
    model.row_lower_, model.row_upper_ = np.full(columns, -highspy.kHighsInf), np.zeros(columns)
    model.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    rate, row = np.nonzero(design.T)
    model.a_matrix_.start_ = np.searchsorted(rate, np.arange(columns + 1)).astype(np.int32)
    model.a_matrix_.index_, model.a_matrix_.value_ = row.astype(np.int32), design[row, rate]
    return model
