"""Explanations over HTTP: the demo's quote rebuilt from what they say, to the cent."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from service.demo.run import demo_job
from service.store.ids import new_id
from tests.api.conftest import Office
from tests.quoting.evaluator import nodes, rebuilt


@pytest.fixture
def quote(demo: Office, demo_tiles: dict[str, str]) -> dict[str, Any]:
    made: dict[str, Any] = demo.post("/v1/quotes", demo_job(demo_tiles)).json
    return made


def at(answer: Any, figure: str) -> Any:
    """The member that a JSON pointer names (RFC 6901)."""
    for step in figure.split("/")[1:]:
        answer = answer[int(step)] if isinstance(answer, list) else answer[step]
    return answer


def test_every_figure_is_what_its_explanation_makes_of_it(demo: Office, quote: dict[str, Any]) -> None:
    where = f"/v1/quotes/{quote['id']}/explanation"
    gross = demo.get(where).json
    assert gross["tree"]["figure"] == "/totals/gross"
    found = rebuilt(gross["tree"])
    stages = [f"/totals/stages/{n}/amount" for n in range(len(quote["totals"]["stages"]))]
    for figure in (
        "/totals/deposit",
        "/totals/retention",
        "/totals/rounding",
        "/labour_hours/total",
        *stages,
    ):
        found |= rebuilt(demo.get(f"{where}?figure={figure}").json["tree"])
    lines, materials = range(len(quote["lines"])), range(len(quote["materials"]))
    sampled = [f"/lines/{place}/price" for place in lines[::8]]
    needed = {f"/materials/{place}/with_allowance" for place in materials}
    for figure in (*sampled, *sorted(needed - found.keys())):
        found |= rebuilt(demo.get(f"{where}?figure={figure}").json["tree"])
    told = {figure: value for figure, value in found.items() if not figure.startswith("#")}
    for figure, value in told.items():
        said = at(quote, figure)
        if isinstance(said, str):
            assert value == Fraction(said), figure
        else:
            assert float(value) == pytest.approx(said, abs=6e-4), figure
    assert {f"/lines/{n}/{name}" for n in lines for name in ("cost", "amount")} <= told.keys()
    assert {f"/totals/{name}" for name in quote["totals"] if name not in ("taxes", "stages")} <= told.keys()
    assert needed <= told.keys()
    assert {f"/labour/{n}/hours" for n in range(len(quote["labour"]))} <= told.keys()
    assert told.keys() <= set(gross["figures"]) | set(stages)


def test_leaves_say_where_they_come_from(demo: Office, quote: dict[str, Any]) -> None:
    tree = demo.get(f"/v1/quotes/{quote['id']}/explanation").json["tree"]
    inputs = [node for node in nodes(tree) if node.get("formula", {}).get("operation") == "input"]
    assert len(inputs) > 50
    assert [node["name"] for node in inputs if not node.get("source")] == []
    sources = " ".join(node["source"] for node in inputs)
    for expected in (
        "price list",
        "labour table",
        "terms Standard terms",
        "common practice",
        "from 2026-01-01",
    ):
        assert expected in sources


def test_packs_hold_what_is_needed(demo: Office, quote: dict[str, Any]) -> None:
    """By the explanation's own figures: packs times size of all lines of a product, and the need."""
    tree = demo.get(f"/v1/quotes/{quote['id']}/explanation").json["tree"]
    found = rebuilt(tree)
    held: dict[str, Decimal] = {}
    for line in (line for line in quote["lines"] if line["packs"] and not line["cutting"]):
        size = line["packs"] * Decimal(line["pack_size"])
        held[line["product"]] = held.get(line["product"], Decimal(0)) + size
    packs = [node for node in nodes(tree) if node.get("formula", {}).get("operation") == "packs"]
    assert len(packs) >= len(held) > 5
    for place, line in enumerate(quote["lines"]):
        if line["product"] in held:
            amount = next(node for node in nodes(tree) if node.get("figure") == f"/lines/{place}/amount")
            needed = sum(found[part["figure"]] for part in amount["parts"][0]["parts"][0]["parts"])
            assert held[line["product"]] >= needed - Fraction(1, 10**6)


def test_a_figure_that_is_none_is_told(demo: Office, quote: dict[str, Any]) -> None:
    where = f"/v1/quotes/{quote['id']}/explanation"
    for figure in ("/totals/profit", "/lines/999/price", "gross", "/rooms/0/name"):
        answer = demo.get(f"{where}?figure={figure}")
        assert answer.status_code == 422
        assert answer.json["errors"][0]["parameter"] == "figure"
    assert demo.get(f"/v1/quotes/{new_id()}/explanation").status_code == 404
