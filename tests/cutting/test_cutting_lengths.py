"""Cutting stock at the edges: lengths that just fit or just do not, offcuts in hand, and bad input."""

from __future__ import annotations

import pytest

from service.cutting.stock import CannotCut, Demand, Stock, cut


@pytest.mark.parametrize("parts", [3, 6, 7, 9, 11, 13])
@pytest.mark.parametrize("stick", [2500.0, 2438.4, 2501.9])
def test_equal_parts_of_a_stick_fit(parts: int, stick: float) -> None:
    assert cut([Demand(stick / parts, parts)], [Stock(stick)], 0.0).sticks == 1


def test_what_does_not_fit_is_not_let_in() -> None:
    assert cut([Demand(1250.1, 2)], [Stock(2500.0)], 0.0).sticks == 2
    assert cut([Demand(1248.6, 2)], [Stock(2500.0)], 3.0).sticks == 2
    assert cut([Demand(1248.5, 2)], [Stock(2500.0)], 3.0).sticks == 1


def test_last_cut_needs_no_more_than_is_left() -> None:
    """Two pieces that leave 1 mm: the saw takes it, whatever its kerf."""
    assert cut([Demand(1248.0, 2)], [Stock(2500.0)], 3.0).sticks == 1


def test_equal_lengths_are_one_demand() -> None:
    plan = cut([Demand(500.0, 2), Demand(500.0, 3), Demand(700.0, 0)], [Stock(2500.0)], 0.0)
    assert [(pattern.pieces, pattern.times) for pattern in plan.patterns] == [((500.0,) * 5, 1)]


def test_offcut_in_hand_is_used_first() -> None:
    plan = cut([Demand(1100.0, 1), Demand(2400.0, 1)], [Stock(2500.0, 20.0), Stock(1200.0, 0.0, 1)], 3.0)
    assert plan.cost == 20.0
    assert {pattern.stock.length: pattern.pieces for pattern in plan.patterns} == {
        2500.0: (2400.0,),
        1200.0: (1100.0,),
    }


def test_nothing_to_cut() -> None:
    assert cut([], [], 3.0) == cut([Demand(500.0, 0)], [Stock(2500.0)], 3.0)
    assert cut([], [], 3.0).optimal


# Bad input


@pytest.mark.parametrize(
    ("wanted", "stocks", "message"),
    [
        ([Demand(2600.0, 1)], [Stock(2500.0)], "longer than every stock"),
        ([Demand(500.0, 1)], [], "longer than every stock"),
        ([Demand(2000.0, 3)], [Stock(2500.0, limit=2)], "does not hold all pieces"),
    ],
)
def test_too_little_stock(wanted: list[Demand], stocks: list[Stock], message: str) -> None:
    with pytest.raises(CannotCut, match=message):
        cut(wanted, stocks, 3.0)


@pytest.mark.parametrize(
    ("demand", "stock", "kerf"),
    [
        (Demand(0.0, 1), Stock(2500.0), 3.0),
        (Demand(float("nan"), 1), Stock(2500.0), 3.0),
        (Demand(500.0, -1), Stock(2500.0), 3.0),
        (Demand(500.0, 1), Stock(float("inf")), 3.0),
        (Demand(500.0, 1), Stock(2500.0, limit=-1), 3.0),
        (Demand(500.0, 1), Stock(2500.0, cost=-1.0), 3.0),
        (Demand(500.0, 1), Stock(2500.0, cost=0.0), 3.0),
        (Demand(500.0, 1), Stock(2500.0), -1.0),
    ],
)
def test_refused(demand: Demand, stock: Stock, kerf: float) -> None:
    with pytest.raises(ValueError, match=r"negative|above zero|at least"):
        cut([demand], [stock], kerf)
