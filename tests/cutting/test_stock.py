"""Cutting stock against textbook instances, and against a search through all ways of cutting that shares
nothing with the solver."""

from __future__ import annotations

from math import ceil, fsum

import highspy
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.cutting import knapsack, patterns
from service.cutting.bounds import fewest_sticks
from service.cutting.effort import Effort
from service.cutting.greedy import pack
from service.cutting.relaxation import relax
from service.cutting.stock import CannotCut, Demand, Stock, cut
from tests.cutting.all_ways import (
    check,
    every_pattern,
    fewest_by_recursion,
    first_fit_decreasing,
    least_cost,
    order_of,
    whole_problem,
)

# P. C. Gilmore and R. E. Gomory, Operations Research 9 (1961); V. Chvatal, Linear Programming (1983), ch. 13.
CHVATAL = (100, {45: 97, 36: 610, 31: 395, 14: 211})
# Roll cutting from a textbook of algebraic modelling; data from memory, optimum by all patterns.
ROLLS = (110, {20: 48, 45: 35, 50: 24, 55: 10, 75: 8})
# A mill's order that is widely reprinted; data from memory, optimum by all patterns.
MILL = (
    5600,
    {1380: 22, 1520: 25, 1560: 12, 1710: 14, 1820: 18, 1880: 18, 1930: 20, 2000: 10, 2050: 12, 2100: 14}
    | {2140: 16, 2150: 18, 2200: 20},
)
# The lengths are M. Fieldhouse's (1990, from memory): a third, a quarter and an eleventh of a stick. A whole
# stick of each, and 2, 3 and 6 pieces more: by length 655/132 = 4.96 sticks, yet five do not do.
FIELDHOUSE = (132, {44: 5, 33: 7, 12: 17})
TRAP = (2500, {1250: 1, 1000: 1, 750: 3, 500: 1})  # 1250 + 750 + 500 and 1000 + 750 + 750 fill two sticks


def demands(order: dict[int, int]) -> list[Demand]:
    return [Demand(float(length), count) for length, count in order.items()]


@pytest.mark.parametrize(
    ("instance", "kerf", "sticks"),
    [
        pytest.param(CHVATAL, 0.0, 453, id="Chvatal"),
        pytest.param(ROLLS, 0.0, 47, id="rolls"),
        pytest.param(MILL, 0.0, 73, id="mill"),
        pytest.param(TRAP, 0.0, 2, id="first fit takes one more"),
        pytest.param(TRAP, 3.0, 3, id="no room for the kerf"),
        pytest.param((2500, {1600: 5, 900: 5}), 0.0, 5, id="no waste"),
        pytest.param((2500, {1600: 5, 900: 5}), 3.0, 8, id="kerf parts the pairs"),
        pytest.param((2500, {1300: 7}), 0.0, 7, id="over half a stick"),
        pytest.param((96, {48: 3, 32: 5}), 0.0, 4, id="eight feet"),
        pytest.param(FIELDHOUSE, 0.0, 6, id="Fieldhouse"),
    ],
)
def test_known_optima(instance: tuple[int, dict[int, int]], kerf: float, sticks: int) -> None:
    stick, order = instance
    plan = cut(demands(order), [Stock(float(stick))], kerf)
    check(plan, demands(order), kerf)
    assert (plan.cost, plan.bound, plan.sticks) == (sticks, sticks, sticks)


@pytest.mark.parametrize(
    ("instance", "value"),
    [(CHVATAL, 452.25), (ROLLS, 46.25), (MILL, 875 / 12), (FIELDHOUSE, 655 / 132)],
    ids=["Chvatal", "rolls", "mill", "Fieldhouse"],
)
def test_known_relaxations(instance: tuple[int, dict[int, int]], value: float) -> None:
    """Chvatal prints 452.25; the others by all patterns, Fieldhouse's by length."""
    problem = whole_problem(*instance)
    assert float(
        relax(problem, pack(problem, Effort()) or (), Effort()).dual.bound(problem)
    ) == pytest.approx(value, abs=1e-4)


def test_a_gap_is_closed_by_proof_not_by_rounding() -> None:
    """The relaxation allows five sticks; that six are needed takes the whole-number programme, and here a
    recursion over what is left to cut."""
    plan = cut(demands(FIELDHOUSE[1]), [Stock(132.0)], 0.0)
    assert (plan.method, plan.optimal) == ("all patterns", True)
    assert plan.cost == fewest_by_recursion(whole_problem(*FIELDHOUSE))


def test_longest_stock_bound() -> None:
    """By hand: 60 needs a stick each, and beside 60 no 45 fits, of which two go into one: 3 + 2."""
    assert fewest_sticks(whole_problem(100, {60: 3, 45: 4})) == 5
    assert fewest_sticks(whole_problem(100, {51: 7})) == 7
    assert fewest_sticks(whole_problem(100, {30: 10, 20: 5})) == 4


# Against all ways of cutting


lists_of_pieces = st.lists(st.integers(10, 100), min_size=1, max_size=9)


@given(lists_of_pieces, st.integers(0, 5))
def test_one_stock_against_all_ways(pieces: list[int], kerf: int) -> None:
    wanted = [Demand(float(piece), 1) for piece in pieces]
    plan = cut(wanted, [Stock(100.0)], float(kerf))
    check(plan, wanted, kerf)
    assert plan.optimal
    assert plan.cost == least_cost(pieces, [Stock(100.0)], kerf)


@given(
    st.lists(st.integers(10, 60), min_size=1, max_size=8),
    st.lists(st.tuples(st.integers(50, 140), st.integers(1, 60)), min_size=1, max_size=3),
    st.integers(0, 4),
)
def test_several_stocks_against_all_ways(pieces: list[int], priced: list[tuple[int, int]], kerf: int) -> None:
    stocks = [Stock(100.0, 19.95), *(Stock(float(length), cost / 2) for length, cost in priced)]
    wanted = [Demand(float(piece), 1) for piece in pieces]
    plan = cut(wanted, stocks, float(kerf))
    check(plan, wanted, kerf)
    assert plan.optimal
    assert plan.cost == pytest.approx(least_cost(pieces, stocks, kerf))


@given(
    st.lists(st.integers(10, 60), min_size=1, max_size=7),
    st.lists(
        st.tuples(st.integers(30, 140), st.integers(0, 60), st.integers(0, 3)),
        min_size=2,
        max_size=3,
        unique_by=lambda stock: stock[:2],
    ),
    st.integers(0, 4),
)
def test_limited_stock_against_all_ways(
    pieces: list[int], priced: list[tuple[int, int, int]], kerf: int
) -> None:
    """Offcuts in hand, which may cost nothing, among them."""
    stocks = [Stock(float(length), float(cost), limit) for length, cost, limit in priced]
    wanted = [Demand(float(piece), 1) for piece in pieces]
    least = least_cost(pieces, stocks, kerf)
    if least is None:
        with pytest.raises(CannotCut):
            cut(wanted, stocks, float(kerf))
    else:
        plan = cut(wanted, stocks, float(kerf))
        check(plan, wanted, kerf)
        assert (plan.cost, plan.bound) == (least, least)


@given(st.dictionaries(st.integers(12, 70), st.integers(1, 30), min_size=1, max_size=5))
def test_relaxation_is_that_of_all_patterns(order: dict[int, int]) -> None:
    """The linear programme over every pattern, set up here as one matrix; the prices found are worth no more
    than a stick in any pattern, so that the bound is a true one."""
    problem = whole_problem(100, order)
    possible = every_pattern(problem)
    dual = relax(problem, pack(problem, Effort()) or (), Effort()).dual
    assert all(sum(map(int.__mul__, dual.pieces, p)) <= dual.scale for p in possible)

    highs = highspy.Highs()
    highs.setOptionValue("output_flag", False)
    amounts = [highs.addVariable(obj=1.0) for _ in possible]
    for kind, count in enumerate(problem.counts):
        highs.addConstr(sum(x * p[kind] for x, p in zip(amounts, possible, strict=True) if p[kind]) >= count)
    highs.run()
    value = highs.getInfo().objective_function_value
    assert float(dual.bound(problem)) == pytest.approx(value, rel=1e-6)


# Larger orders


@pytest.mark.parametrize("seed", range(12))
def test_two_hundred_pieces_of_fifteen_lengths(seed: int) -> None:
    wanted = order_of(200, 15, seed)
    plan = cut(wanted, [Stock(2500.0)], 3.0)
    check(plan, wanted, 3.0)
    pieces = [demand.length for demand in wanted for _ in range(demand.count)]
    assert plan.optimal
    assert ceil((fsum(pieces) + 3.0 * len(pieces)) / 2503.0) <= plan.sticks
    assert plan.sticks <= first_fit_decreasing(pieces, 2500.0, 3.0)


@given(st.lists(st.floats(10.0, 2500.0), min_size=1, max_size=40), st.floats(0.0, 5.0))
def test_never_worse_than_first_fit(lengths: list[float], kerf: float) -> None:
    wanted = [Demand(round(length, 1), 1) for length in lengths]
    kerf = round(kerf, 1)
    plan = cut(wanted, [Stock(2500.0)], kerf)
    check(plan, wanted, kerf)
    assert plan.sticks <= first_fit_decreasing([demand.length for demand in wanted], 2500.0, kerf)


@pytest.mark.parametrize("stocks", [[Stock(2500.0)], [Stock(2500.0, 18.95), Stock(3000.0, 21.5)]])
def test_same_answer_every_time_and_in_any_order(stocks: list[Stock]) -> None:
    wanted = order_of(40, 10, 5)
    answers = {repr(cut(order, stocks, 3.0)) for order in (wanted, wanted, wanted[::-1])}
    assert len(answers) == 1


def test_a_search_cut_short_says_so() -> None:
    """One node is too few for these prices: a plan with a gap; more nodes only close in from both sides."""
    wanted = order_of(40, 8, 5)
    stocks = [Stock(2500.0, 18.95), Stock(3000.0, 22.4), Stock(1250.0, 11.0)]
    short, longer = (cut(wanted, stocks, 3.0, node_limit=nodes) for nodes in (1, 5))
    check(short, wanted, 3.0)
    assert not short.optimal
    assert 0 < short.gap < 0.01 * short.cost
    assert short.bound <= longer.bound <= longer.cost <= short.cost


@pytest.mark.parametrize("effort", [0, 3_000, 30_000, 300_000])
def test_a_search_without_effort_left_keeps_a_true_bound(effort: int) -> None:
    wanted = order_of(200, 15, 0)
    best = cut(wanted, [Stock(2500.0)], 3.0)
    left = Effort(effort)
    plan = cut(wanted, [Stock(2500.0)], 3.0, effort=left)
    check(plan, wanted, 3.0)
    assert plan.bound <= best.cost <= plan.cost
    assert left.left <= effort
    assert plan == cut(wanted, [Stock(2500.0)], 3.0, effort=Effort(effort))


def test_a_search_ends_at_what_is_enough() -> None:
    """Chvatal's order costs 453: told that 452 or less is wanted, the bound of 453 ends it."""
    order = demands(CHVATAL[1])
    effort = Effort()
    plan = cut(order, [Stock(100.0)], 0.0, effort=effort, enough=453.0)
    check(plan, order, 0.0)
    assert plan.bound == 453.0


def test_a_search_given_up_keeps_a_true_bound(monkeypatch: pytest.MonkeyPatch) -> None:
    """Too many fillings, then too many patterns: what was proven until then stands."""
    order, stick = demands(FIELDHOUSE[1]), [Stock(132.0)]
    monkeypatch.setattr(patterns, "MOST_PATTERNS", 1)
    plan = cut(order, stick, 0.0)
    check(plan, order, 0.0)
    assert (plan.cost, plan.bound, plan.method) == (6, 5, "generated patterns")
    monkeypatch.setattr(knapsack, "MOST_STATES", 1)
    plan = cut(demands(CHVATAL[1]), [Stock(100.0)], 0.0)
    check(plan, demands(CHVATAL[1]), 0.0)
    assert plan.bound <= 453 <= plan.cost
