"""Costs that no cutting can go below, reckoned at once."""

from __future__ import annotations

from service.cutting.problem import Problem


def quick_bound(problem: Problem) -> int:
    """The greater of the material at its cheapest, and the fewest sticks at the cheapest price."""
    total = problem.used(problem.counts)
    rates = zip(problem.costs, problem.capacities, strict=True)
    material = min(_ceil(cost * total, capacity) for cost, capacity in rates)
    return max(material, fewest_sticks(problem) * min(problem.costs))


def fewest_sticks(problem: Problem) -> int:
    """Martello and Toth's bound L2 (Knapsack Problems, 1990, ch. 8) for sticks of the longest stock.

    For every size up to half a stick: pieces over half stand alone, and what is left beside those that can
    take the size must hold the pieces from that size to half. Length alone and one-per-stick are its ends.
    """
    capacity = max(problem.capacities)
    halves = [size for size in problem.sizes if 2 * size <= capacity]
    return max(_least(problem, capacity, smallest) for smallest in (0, *halves))


def _least(problem: Problem, capacity: int, smallest: int) -> int:
    kinds = list(zip(problem.sizes, problem.counts, strict=True))
    alone = sum(count for size, count in kinds if 2 * size > capacity)
    room = sum((capacity - size) * count for size, count in kinds if 2 * size > capacity >= size + smallest)
    small = sum(size * count for size, count in kinds if smallest <= size and 2 * size <= capacity)
    return alone + max(0, _ceil(small - room, capacity))


def _ceil(dividend: int, divisor: int) -> int:
    return -(-dividend // divisor)
