"""One quote worked by hand, step by step, with invented goods.

Bought
  tile      70 pieces, boxes of 10 at 18.50 (17.25 from 8 boxes): 7 x 18.50 = 129.50 (8 boxes would be 138.00)
  membrane  7.9 m2, rolls of 5 m2 at 95.00 or 30 m2 at 430.00: 2 x 95.00 = 190.00
  mortar    31.4 kg: north 2 bags of 25 kg at 34.90 = 69.80, south 2 bags of 20 kg at 18.40 = 36.80 and 30.00
            for its delivery = 66.80, so south
  grout     no colour chosen, allowance 6.35 a kg: 3.3 x 6.35 = 20.955 -> 20.96
  materials 20.96 + 129.50 + 190.00 + 36.80 = 377.26
Delivered   north 319.50 is under 500.00, so 45.00; south 30.00; delivery 75.00
Laid        setting 4.35 h x 58.40 = 254.04; cuts 1.17 h x 58.40 = 68.328 -> 68.33; labour 322.37
Cost        377.26 + 75.00 + 322.37 = 774.63
Contingency 5 % of 774.63 = 38.7315 -> 38.73, shared in cents as 3873 x amount / 774.63:
            grout 104.80, tile 647.47, membrane 949.96, mortar 183.99, north 224.99, south 149.99,
            setting 1270.15, cuts 341.64; whole cents 3867, the 6 left go to the largest remainders (all but
            tile and setting): 1.05, 6.47, 9.50, 1.84, 2.25, 1.50, 12.70, 3.42
            with it: 22.01, 135.97, 199.50, 38.64, 47.25, 31.50, 266.74, 71.75; sum 813.36
Uplift      tile markup 25 % of 135.97 = 33.9925 -> 33.99
            waterproofing margin 20 % = markup 25 % of 199.50 = 49.875 -> 49.88
            setting markup 30 % of 22.01 + 38.64 = 60.65: 18.195 -> 18.20,
            shared 660.49 : 1159.51 -> 6.60, 11.60
            delivery markup 0 %
            labour margin 35 % = 35/65 of 266.74 + 71.75 = 338.49: 182.2638 -> 182.26,
            shared 14362.62 : 3863.38 -> 143.63, 38.63
            markup 33.99 + 49.88 + 18.20 + 182.26 = 284.33
Prices      grout 28.61, tile 169.96, membrane 249.38, mortar 50.24, north 47.25, south 31.50, setting 410.37,
            cuts 110.38; sum 1097.69 = 774.63 + 38.73 + 284.33
Discount    3 % of 1097.69 = 32.9307 -> 32.93; 1064.76
Rounding    to 0.05: 1064.75, so -0.01; net 1064.75
Tax         goods 576.94 : labour 520.75 of 1097.69; net in cents 55962.69 : 50512.31 -> 559.63 and 505.12
            8.25 % of 559.63 = 46.1695 -> 46.17; 5 % of 505.12 = 25.256 -> 25.26; tax 71.43
Gross       1064.75 + 71.43 = 1136.18
Payments    deposit 30 % = 340.854 -> 340.85; start 40 % = 454.472 -> 454.47; finish 30 % takes the rest
            of the whole: 1136.18 - 340.85 - 454.47 = 340.86; retention 5 % = 56.809 -> 56.81
"""

from __future__ import annotations

from dataclasses import replace

from service.pricing import price
from service.pricing.model import (
    Allowance,
    Hours,
    Payment,
    Priced,
    Rounding,
    Stage,
    TaxLine,
    TaxRule,
    Terms,
    Totals,
    Uplift,
)
from tests.pricing.goods import D, book, need, offer, product, supplier

BOOK = book(
    [
        product("tile-1", "tile", "piece"),
        product("mem-1", "membrane", "m2"),
        product("mor-1", "tile_mortar"),
        product("mor-2", "tile_mortar"),
    ],
    [
        offer("tile-1", "10", "18.50", "17.25@8"),
        offer("mem-1", "5", "95.00"),
        offer("mem-1", "30", "430.00"),
        offer("mor-1", "25", "34.90"),
        offer("mor-2", "20", "18.40", supplier="south"),
    ],
    supplier("north", "45.00", "500.00"),
    supplier("south", "30.00"),
)
NEEDS = (
    need("tile", "70", "piece", product="tile-1"),
    need("membrane", "7.9", "m2"),
    need("tile_mortar", "31.4"),
    need("grout", "3.3"),
)
HOURS = Hours("set_medium", "area", D("4.35")), Hours("cut_straight", "cuts", D("1.17"))
TERMS = Terms(
    id="terms-1",
    name="invented",
    contingency_percent=D(5),
    uplifts={
        "tile": Uplift("markup", D(25)),
        "waterproofing": Uplift("margin", D(20)),
        "delivery": Uplift("markup", D(0)),
        "labour": Uplift("margin", D(35)),
        "default": Uplift("markup", D(30)),
    },
    discount_percent=D(3),
    taxes=(TaxRule("goods", D("8.25"), "materials"), TaxRule("work", D(5), "labour")),
    deposit_percent=D(30),
    stages=(Stage("start", D(40)), Stage("finish", D(30))),
    retention_percent=D(5),
    allowances=(Allowance("grout", "kg", D("6.35")),),
    rounding=Rounding(total_step=D("0.05")),
)


def worked() -> Priced:
    return price(NEEDS, HOURS, D("58.40"), BOOK, TERMS)


def test_lines() -> None:
    found = [(line.role, line.packs, line.amount, line.price) for line in worked().lines]
    assert found == [
        ("grout", None, D("20.96"), D("28.61")),
        ("tile", 7, D("129.50"), D("169.96")),
        ("membrane", 2, D("190.00"), D("249.38")),
        ("tile_mortar", 2, D("36.80"), D("50.24")),
        ("delivery", None, D("45.00"), D("47.25")),
        ("delivery", None, D("30.00"), D("31.50")),
        ("set_medium", None, D("254.04"), D("410.37")),
        ("cut_straight", None, D("68.33"), D("110.38")),
        ("discount", None, D(0), D("-32.93")),
        ("rounding", None, D(0), D("-0.01")),
    ]


def test_totals() -> None:
    assert worked().totals == Totals(
        materials=D("377.26"),
        delivery=D("75.00"),
        labour=D("322.37"),
        contingency=D("38.73"),
        markup=D("284.33"),
        discount=D("32.93"),
        rounding=D("-0.01"),
        net=D("1064.75"),
        tax=D("71.43"),
        taxes=(
            TaxLine("goods", D("8.25"), D("559.63"), D("46.17")),
            TaxLine("work", D(5), D("505.12"), D("25.26")),
        ),
        gross=D("1136.18"),
        deposit=D("340.85"),
        stages=(Payment("start", D("454.47")), Payment("finish", D("340.86"))),
        retention=D("56.81"),
    )


def test_half_even_goes_to_the_even_cent() -> None:
    """20.955, 49.875 and 18.195 go to 20.96, 49.88 and 18.20 by both rules; 4.445 does not."""
    even = replace(TERMS, rounding=Rounding("half_even", total_step=D("0.05")))
    assert price(NEEDS, HOURS, D("58.40"), BOOK, even).totals == worked().totals
    half = replace(TERMS, allowances=(Allowance("grout", "kg", D("6.35")),), contingency_percent=D(0))
    one = (need("grout", "0.7"),)  # 0.7 x 6.35 = 4.445
    for method, amount in (("half_up", "4.45"), ("half_even", "4.44")):
        terms = replace(half, rounding=Rounding(method))  # type: ignore[arg-type]
        assert price(one, (), D(0), BOOK, terms).lines[0].amount == D(amount)


def test_the_same_again_is_the_same() -> None:
    assert worked() == worked()


def test_nothing_to_price_is_nothing() -> None:
    answer = price((), (), D(50), BOOK, TERMS)
    assert answer.totals is not None
    assert (answer.lines, answer.totals.gross) == ((), D(0))
