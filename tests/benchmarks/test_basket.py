"""Time to buy 25 materials from 5 suppliers in 4 pack sizes, beside one model of packs, suppliers and limits
at once (pytest --benchmark-enable -n 0 tests/benchmarks)."""

from __future__ import annotations

from decimal import Decimal
from random import Random
from time import perf_counter

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from service.pricing import price
from service.pricing.basket.search import solve
from service.pricing.buying import Buying
from service.pricing.model import Need, Offer, PriceBook, PriceBreak, Priced, Supplier, Terms
from tests.benchmarks.ratios import note
from tests.pricing.all_baskets import Monolith
from tests.pricing.goods import D, book, need, product

SIZES = ["1", "2.5", "5", "10", "15", "20", "25"]
LEAST_TIMES_FASTER = 3


def large(seed: int, suppliers: int = 5) -> tuple[list[Need], PriceBook]:
    random = Random(seed)
    sellers = [
        Supplier(
            f"s{i}",
            f"invented {i}",
            delivery_charge=D(random.randrange(20, 70)),
            free_delivery_over=D(random.randrange(300, 1200)),
            minimum_order=D(random.randrange(40, 150)),
        )
        for i in range(suppliers)
    ]
    products = [product(f"p{m}", f"role{m}") for m in range(25)]
    needs = [need(p.role, str(round(random.uniform(3, 120), 3))) for p in products]
    rates = [
        (p.id, s.id, random.uniform(1, 8) * random.uniform(0.85, 1.2)) for p in products for s in sellers
    ]
    offers = [
        _offer(random, p, s, size, rate) for p, s, rate in rates for size in sorted(random.sample(SIZES, 4))
    ]
    return needs, book(products, offers, *sellers)


def _offer(random: Random, product_id: str, supplier: str, size: str, rate: float) -> Offer:
    cost = rate * float(size) * random.uniform(0.95, 1.2)
    breaks = PriceBreak(1, Decimal(str(round(cost, 2)))), PriceBreak(10, Decimal(str(round(cost * 0.93, 2))))
    return Offer(supplier, product_id, D(size), breaks, "list-1")


def bought(needs: list[Need], stock: PriceBook) -> Priced:
    solve.cache_clear()
    return price(needs, (), D(0), stock, Terms("t", "invented"))


@pytest.mark.parametrize("seed", range(3))
def test_twenty_five_materials(benchmark: BenchmarkFixture, seed: int) -> None:
    needs, stock = large(seed)
    answer = benchmark(bought, needs, stock)
    assert answer.basket is not None
    assert answer.basket.gap == 0
    if benchmark.stats is not None:
        start = perf_counter()
        whole = Monolith(needs, stock, Buying()).solve()
        times = (perf_counter() - start) / benchmark.stats.stats.median
        benchmark.extra_info["times faster than one model"] = times
        ms = benchmark.stats.stats.median * 1000
        print(f"{ms:.1f} ms, the one model {times:.0f} times as long")
        note(
            benchmark,
            "25 materials bought",
            times,
            "times quicker",
            LEAST_TIMES_FASTER,
            "one model",
            least=True,
        )
        assert whole is not None
        assert whole <= float(answer.basket.cost) + 0.01  # it may buy more to reach a limit
        assert times > LEAST_TIMES_FASTER


@pytest.mark.parametrize("suppliers", [8, 12, 20])
def test_more_suppliers_than_sets_are_looked_at_for(benchmark: BenchmarkFixture, suppliers: int) -> None:
    needs, stock = large(1, suppliers)
    answer = benchmark.pedantic(bought, (needs, stock), rounds=3)
    assert answer.basket is not None
    assert 0 <= answer.basket.gap <= answer.basket.cost / 200
