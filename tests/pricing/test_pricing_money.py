"""Rounding against the standard library's decimal arithmetic, sharing out against an election of 1790."""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.pricing.model import Rounding, Uplift
from service.pricing.money import apportion, to_minor, to_step
from service.pricing.terms import uplift_rate
from tests.pricing.goods import D

AMOUNTS = st.decimals(-(10**6), 10**6, places=3)
METHODS = {"half_up": ROUND_HALF_UP, "half_even": ROUND_HALF_EVEN}


@pytest.mark.parametrize("method", METHODS)
@given(amount=AMOUNTS, minor=st.integers(0, 3))
def test_rounding_is_that_of_the_decimal_module(method: str, amount: Decimal, minor: int) -> None:
    ours = to_minor(amount, Rounding(method, minor))  # type: ignore[arg-type]
    theirs = amount.quantize(D(1).scaleb(-minor), METHODS[method])
    assert ours == theirs
    assert ours.as_tuple().exponent == -minor


@pytest.mark.parametrize(
    ("amount", "step", "rounded"),
    [("10.02", "0.05", "10.00"), ("10.03", "0.05", "10.05"), ("12.50", "5", "15"), ("-0.01", "0.05", "0")],
)
def test_steps(amount: str, step: str, rounded: str) -> None:
    ours = to_step(D(amount), D(step), Rounding())
    assert ours == D(rounded)
    assert not (ours == 0 and ours.is_signed())


def test_half_even_takes_the_even_multiple_of_a_step() -> None:
    assert to_step(D("12.50"), D(5), Rounding("half_even")) == 10


def test_largest_remainders_share_out_the_house_of_1790() -> None:
    """Hamilton's bill, 120 seats on the census of 1790 (US Census Bureau; figures from memory)."""
    people = [630560, 475327, 432879, 353523, 331589, 278514, 236841, 206236, 179570, 141822, 85533, 70835]
    people += [68705, 68446, 55540]
    assert sum(people) == 3_615_920
    seats = apportion(D(120), [D(p) for p in people], D(1))
    assert seats == [21, 16, 14, 12, 11, 9, 8, 7, 6, 5, 3, 2, 2, 2, 2]


@given(st.integers(0, 10**7), st.lists(st.integers(0, 10**6), min_size=1, max_size=30))
def test_shares_add_up_and_stay_within_a_unit_of_proportion(cents: int, weights: list[int]) -> None:
    shares = apportion(D(cents) / 100, [D(w) for w in weights], D("0.01"))
    assert sum(shares) == D(cents) / 100
    if any(weights):
        for share, weight in zip(shares, weights, strict=True):
            assert abs(share * 100 * sum(weights) - cents * weight) < sum(weights)


@pytest.mark.parametrize(
    ("margin", "markup"), [("20", "25"), ("25", "33.3333"), ("33.3333", "50"), ("50", "100")]
)
def test_margin_and_markup_of_the_same_price(margin: str, markup: str) -> None:
    """The table of any textbook of cost accounting: markup = margin / (1 - margin) [common practice]."""
    ours = uplift_rate(Uplift("margin", D(margin)))
    theirs = uplift_rate(Uplift("markup", D(markup)))
    assert float(ours) == pytest.approx(float(theirs), abs=2e-6)


@given(st.decimals(1, 10**5, places=2), st.decimals(0, 95, places=1))
def test_a_margin_is_that_part_of_the_selling_price(cost: Decimal, margin: Decimal) -> None:
    price = Fraction(cost) * (1 + uplift_rate(Uplift("margin", margin)))
    assert (price - Fraction(cost)) / price == Fraction(margin) / 100


def test_a_margin_of_the_whole_price_is_refused() -> None:
    with pytest.raises(ValueError, match="margin of 100"):
        uplift_rate(Uplift("margin", D(100)))
