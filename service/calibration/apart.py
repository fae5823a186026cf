"""Which rates the jobs can tell apart, and which only move together."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from service.calibration.deviations import Floats

Ties = npt.NDArray[np.bool_]
NOISE = 1e-8
"""Of the largest singular value, and of a unit vector: what is less is nothing."""


def groups(design: Floats) -> list[list[int]]:
    """The columns in groups, in the order of their first: alone where the rows fix its rate.

    Rates are not fixed where a change of theirs leaves every row's sum as it is. Columns that take part in
    the same such change are put together; in any fixed proportions of theirs each group then has one
    multiplier that the rows do fix, since sums of amounts that are not negative cannot cancel out.
    """
    tied = _tied(design)
    found: list[list[int]] = []
    left = list(range(design.shape[1]))
    while left:
        group = _reached(left[0], tied)
        found.append(group)
        left = [column for column in left if column not in group]
    return found


def _tied(design: Floats) -> Ties:
    """Which columns share in a change that no row notices: the projector on the null space says it."""
    sizes = np.linalg.norm(design, axis=0)
    _, singular, across = np.linalg.svd(design / sizes, full_matrices=True)
    rank = int((singular > NOISE * singular.max(initial=0.0)).sum())
    unnoticed = across[rank:]
    return np.asarray(np.abs(unnoticed.T @ unnoticed) > NOISE)


def _reached(start: int, tied: Ties) -> list[int]:
    group, edge = {start}, [start]
    while edge:
        near = {int(column) for column in np.flatnonzero(tied[edge.pop()])} - group
        group |= near
        edge += near
    return sorted(group)
