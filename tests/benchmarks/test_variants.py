"""What twenty variants cost beside one and beside as many single ones, each timed in the same run as what it
is compared with (pytest --benchmark-enable -n 0 tests/benchmarks/test_variants.py).

A single one is a comparison of one variant: the same request, answered without anything to share.
"""

from __future__ import annotations

from statistics import median
from time import perf_counter
from typing import Any

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from service.demo.run import demo_job
from tests.api.conftest import Office, app, demo, demo_tiles, operations, settings
from tests.benchmarks.ratios import note

__all__ = ["app", "demo", "demo_tiles", "operations", "settings"]

COUNT = 20
PRICE_ONLY = 3.0  # times one
OTHER_LAYOUTS = 0.7  # times as many single ones
TILES = ((300, 300), (600, 300), (450, 450), (330, 330), (600, 600), (200, 200), (400, 200), (250, 250))


@pytest.fixture
def job(demo_tiles: dict[str, str]) -> dict[str, Any]:
    made = demo_job(demo_tiles)
    made.pop("customer")
    return made


def seconds(office: Office, job: dict[str, Any], variants: list[dict[str, Any]]) -> float:
    start = perf_counter()
    answer = office.post("/v1/variants", {**job, "variants": variants})
    taken = perf_counter() - start
    assert answer.status_code == 200, answer.text
    return taken


def alike(office: Office, tile: str) -> list[str]:
    """The tile and twenty more products of its size, each sold."""
    same = {
        "role": "tile",
        "unit": "piece",
        "attributes": office.get(f"/v1/products/{tile}").json["attributes"],
    }
    supplier = office.get("/v1/suppliers").json["items"][0]["id"]
    made = [
        office.post("/v1/products", {**same, "name": f"Invented tile {n}"}).json["id"] for n in range(COUNT)
    ]
    head = {"supplier_id": supplier, "name": "More tile", "valid_from": "2026-02-01", "kind": "promotion"}
    prices = office.post("/v1/price-lists", head)
    where = prices.headers["Location"]
    items = [{"product_id": one, "pack_size": "10", "price": f"{20 + n}.50"} for n, one in enumerate(made)]
    filled = office.put(f"{where}/items", {"items": items}, If_Match=prices.headers["ETag"])
    assert filled.status_code == 200, filled.text
    active = office.post(f"{where}/activate", None, If_Match=filled.headers["ETag"])
    assert active.status_code == 200, active.text
    return made


def test_variants_that_differ_in_price_alone(
    benchmark: BenchmarkFixture, demo: Office, demo_tiles: dict[str, str], job: dict[str, Any]
) -> None:
    """Half of them other tile of the same size, half other terms."""
    tiles = alike(demo, demo_tiles["tile-slate-600x300"])
    products = [
        {"name": one, "rooms": [2], "changes": {"tile": {"product": one}}} for one in tiles[: COUNT // 2]
    ]
    terms = [
        {"name": f"discount {n}", "terms": {"discount_percent": str(n)}} for n in range(COUNT - len(products))
    ]
    variants = [*products, *terms]
    seconds(demo, job, variants[:1])
    if benchmark.disabled:
        benchmark.pedantic(seconds, args=(demo, job, variants), rounds=1)
        return
    one = median(seconds(demo, job, variants[:1]) for _ in range(5))
    benchmark.pedantic(seconds, args=(demo, job, variants), rounds=5)
    times = benchmark.stats.stats.median / one
    note(benchmark, "20 variants of price alone", times, "times", PRICE_ONLY, "one variant")
    assert times < PRICE_ONLY


def test_variants_with_other_layouts(benchmark: BenchmarkFixture, demo: Office, job: dict[str, Any]) -> None:
    """Every room is laid out anew in each: another tile or another bond."""
    variants = [
        {"name": f"{bond} {length} x {width}", "changes": {"tile": tile, "pattern": pattern}}
        for bond, pattern in (
            ("straight", {"kind": "stack_bond", "offset": None}),
            ("half", {"kind": "running_bond", "offset": "1/2"}),
            ("third", {"kind": "running_bond", "offset": "1/3"}),
        )
        for length, width in TILES
        for tile in ({"length": length, "width": width},)
    ][:COUNT]
    seconds(demo, job, variants[:1])
    if benchmark.disabled:
        benchmark.pedantic(seconds, args=(demo, job, variants[:2]), rounds=1)
        return
    single, together = [], []
    for _ in range(3):
        single.append(sum(seconds(demo, job, [variant]) for variant in variants))
        together.append(seconds(demo, job, variants))
    benchmark.pedantic(seconds, args=(demo, job, variants), rounds=1)
    share = median(together) / median(single)
    note(
        benchmark, "20 variants of other layouts", share, "times", OTHER_LAYOUTS, "20 requests of one variant"
    )
    assert share < OTHER_LAYOUTS
