"""Prices of another currency: converted once, exactly, and shown with their rate."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

from hypothesis import given
from hypothesis import strategies as st

from service.pricing import price
from service.pricing.exchange import CHARGES, converted, in_own_currency
from service.pricing.model import Exchange, Priced, Supplier, Terms
from service.pricing.notices import outlived
from tests.pricing.goods import D, book, need, offer, product, supplier

RATE = Exchange("rate-1", "GBP", D("1.1713"), date(2026, 3, 1))
GROUT = product("g", "grout")


@given(st.decimals(0, 9_999_999_999, places=14), st.decimals("0.0000000001", 9_999, places=10))
def test_a_price_is_the_product_rounded_once(stated: Decimal, rate: Decimal) -> None:
    """Against the decimal library, with room for every digit of the product."""
    from decimal import localcontext

    with localcontext() as context:
        context.prec = 60
        exact = (stated * rate).quantize(D("0.0001"), ROUND_HALF_UP)
    assert converted(stated, rate) == exact


def test_every_amount_of_a_supplier_is_converted() -> None:
    """Whatever money a supplier states: a new amount that is forgotten here fails."""
    money = {name for name, kind in Supplier.__annotations__.items() if "Decimal" in kind}
    assert set(CHARGES) == money - {"restocking_percent"}
    stated = replace(supplier("north"), **{name: D(10) for name in CHARGES})
    (own,) = in_own_currency(book([GROUT], [], stated), {"north": RATE}).suppliers
    assert {getattr(own, name) for name in CHARGES} == {D("11.7130")}


def priced(home: str, abroad: str) -> Priced:
    sold = book([GROUT], [offer("g", "5", home, supplier="home"), offer("g", "5", abroad, "7.77@3")])
    return price([need("grout", "9")], [], D(0), in_own_currency(sold, {"north": RATE}), Terms("t", "t"))


def test_the_cheaper_after_conversion_is_taken_and_shows_its_rate() -> None:
    """9.99 at 1.1713 is 11.701287, told as 11.7013; two packs are 23.40."""
    dear, cheap = priced("11.70", "9.99"), priced("11.71", "9.99")
    assert [(line.supplier, line.exchange) for line in dear.lines] == [("home", None)]
    (line,) = cheap.lines
    assert (line.supplier, line.cost, line.amount) == ("north", D("11.7013"), D("23.40"))
    assert line.exchange == RATE


def test_what_could_not_be_converted_is_told_by_pair_and_day() -> None:
    sold = replace(book([GROUT], [offer("g", "5", "10")]), unconverted=("GBP",))
    told = "prices in GBP were left out: no exchange rate from GBP to EUR is held for 2026-03-02"
    answer = price([need("grout", "9")], [], D(0), sold, Terms("t", "t"))
    assert [notice.message for notice in answer.notices] == [told]
    missing = price([need("primer", "9")], [], D(0), sold, Terms("t", "t"))
    assert [told in gap.message for gap in missing.gaps] == [True]


def test_a_quote_that_outlives_its_prices_is_told_once_a_list() -> None:
    bought = price([need("grout", "9")], [], D(0), book([GROUT], [offer("g", "5", "10")]), Terms("t", "t"))
    ends = {"list-1": date(2026, 3, 31), "another": date(2026, 1, 1)}
    assert outlived(bought, ends, date(2026, 3, 31)).notices == ()
    (notice,) = outlived(bought, ends, date(2026, 4, 1)).notices
    assert (notice.rule, "2026-03-31" in notice.message) == ("prices_end_first", True)
