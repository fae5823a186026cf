"""The work that a search may do, counted and never timed, so that it ends at the same place on every run."""

from __future__ import annotations

from dataclasses import dataclass

MOST_EFFORT = 1_000_000
"""Units for one order, each about an eighth of a microsecond of a present machine: some 130 ms."""

BATCH = 300  # what one step of the knapsack costs beside its fillings
FILL = 300  # a filling handed back, and the column that it becomes
VISIT = 10  # a place looked at in plain Python
PLACE = 6  # a kind of piece offered to a stick in packing
PROGRAMME = 4_000  # a linear programme solved anew
PIVOT = 250  # a step of its simplex method
ENTRY = 10  # an entry of the whole-number programme's matrix at one node
ROOT = 6  # nodes' worth of work before its first branching


@dataclass
class Effort:
    """Units left. Several searches of one order share it, the earlier ones leaving something to the later."""

    left: int = MOST_EFFORT

    @property
    def spent(self) -> bool:
        return self.left <= 0

    def spend(self, units: int) -> None:
        self.left -= units

    def part(self, searches: int) -> Effort:
        """An equal part for each of the searches still to come, taken away from here; see `give_back`."""
        mine = Effort(max(0, self.left) // searches)
        self.left -= mine.left
        return mine

    def give_back(self, rest: Effort) -> None:
        self.left += rest.left
