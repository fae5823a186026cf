"""Explanations over HTTP: the demo's quote rebuilt from what they say, to the cent."""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from typing import Any
from uuid import UUID

import pytest
from sqlalchemy import Engine

from service.api.schemas.explanation import _told
from service.demo.run import demo_job
from service.demo.seed import ORGANISATION
from service.quoting.explanation import figures_of
from service.quoting.explanation.facts import facts_of
from service.quoting.quotes import get_quote
from service.store.ids import new_id
from service.store.session import open_session
from tests.api.conftest import Office
from tests.quoting.evaluator import nodes, rebuilt


@pytest.fixture
def quote(demo: Office, demo_tiles: dict[str, str]) -> dict[str, Any]:
    """With US figures beside the metric ones, which are explained too."""
    made: dict[str, Any] = demo.post("/v1/quotes", {**demo_job(demo_tiles), "display_units": "us"}).json
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
            told_to = 6e-3 if figure.startswith("/rooms/") else 6e-4  # lengths in mm to two places
            assert float(value) == pytest.approx(said, abs=told_to), figure
    assert {f"/lines/{n}/{name}" for n in lines for name in ("cost", "amount")} <= told.keys()
    assert {f"/totals/{name}" for name in quote["totals"] if name not in ("taxes", "stages")} <= told.keys()
    assert needed <= told.keys()
    assert {f"/labour/{n}/hours" for n in range(len(quote["labour"]))} <= told.keys()
    assert told.keys() <= set(gross["figures"]) | set(stages)


NOT_EXPLAINED = re.compile(
    r"/(number|revision|current_revision|offered_revision|draft_revision|versions/.*)"  # names, not figures
    r"|/rooms/\d+/room/pattern/offset"  # a ratio in words, such as 1/3
    r"|/options/.*"  # explained by ?option=
)

SEARCHED = re.compile(
    r"/basket/(bound|second_best/cost|dearer/\d+/(cheapest_)?cost)"
    r"|/lines/\d+/cutting/(cost|bound|joints)"
    r"|/lines/\d+/quantity"  # deliveries, as the supplier charges them
)
"""What a search ended with: its words say by which method, and a bound stands beside it."""


IN_US_UNITS = re.compile(r"_(in|ft2?|lb)$|/us_\w+$")


def numbers(value: Any, where: str = "") -> Iterator[tuple[str, Fraction]]:
    """Every number of an answer by its pointer, decimal strings too."""
    if isinstance(value, dict):
        for name, inner in value.items():
            yield from numbers(inner, f"{where}/{name}")
    elif isinstance(value, list):
        for place, inner in enumerate(value):
            yield from numbers(inner, f"{where}/{place}")
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield where, Fraction(str(value))
    elif isinstance(value, str) and re.fullmatch(r"-?\d+(\.\d+)?", value):
        yield where, Fraction(value)


def test_every_number_of_the_answer_is_explained(
    demo: Office, quote: dict[str, Any], live_engine: Engine
) -> None:
    said = {where: value for where, value in numbers(quote) if not NOT_EXPLAINED.fullmatch(where)}
    assert len(said) > 900
    converted = {where for where in said if IN_US_UNITS.search(where)}
    assert len(converted) > 100
    known = demo.get(f"/v1/quotes/{quote['id']}/explanation").json["figures"]
    assert said.keys() - set(known) == set()
    with open_session(live_engine, ORGANISATION) as session:
        figures = figures_of(facts_of(session, get_quote(session, UUID(quote["id"]))))
    told: set[str] = set()
    found = rebuilt({"parts": [_told(figures[figure], told) for figure in said]})
    for figure, value in said.items():
        apart = 1e-9 if figure in converted else 6e-3
        assert float(found[figure]) == pytest.approx(float(value), abs=apart), figure
        node = figures[figure]
        assert node.words, figure
        leaf = node.operation == "input" or node.value == 0 or SEARCHED.fullmatch(figure)
        assert node.parts or leaf, figure


def test_figures_of_rooms_and_of_work_come_from_what_was_said(demo: Office, quote: dict[str, Any]) -> None:
    where = f"/v1/quotes/{quote['id']}/explanation"
    area = demo.get(f"{where}?figure=/rooms/1/measures/floor_area_m2").json["tree"]
    assert area["formula"]["words"] == "area of the outline less its holes, columns, fixtures and stairs"
    said = {node["figure"]: node["value"] for node in nodes(area) if "figure" in node}
    assert said["/rooms/1/room/outline/1/0"] == "3600"
    assert said["/rooms/1/room/obstructions/0/outline/0/1"] == "1800"
    tile = next(p for p, material in enumerate(quote["materials"]) if material["role"] == "tile")
    laid = demo.get(f"{where}?figure=/materials/{tile}/reasons/0/quantity").json["tree"]
    assert [part["figure"] for part in laid["parts"]] == ["/rooms/0/layout/tiles_needed"]
    assert not any("waste" in node["name"] for node in nodes(laid)), (
        "no usual waste bears on a floor laid out"
    )
    membrane = next(p for p, work in enumerate(quote["labour"]) if work["activity"] == "lay_membrane")
    work = demo.get(f"{where}?figure=/labour/{membrane}/quantity").json["tree"]
    assert {f"/rooms/{n}/measures/floor_area_m2" for n in range(3)} <= {n.get("figure") for n in nodes(work)}


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
    taken = ("packs", "whole")
    packs = [node for node in nodes(tree) if node.get("formula", {}).get("operation") in taken]
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
