"""What is built of an offer of which a part was accepted: its document and lists are about that part."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from werkzeug.test import TestResponse

from service.quoting import recompute
from service.quoting.quotes import part
from tests.api.conftest import Office
from tests.api.test_quote_life import ACCEPT, JOB, clock, issued, step

__all__ = ["clock", "issued"]


@pytest.fixture
def alone(demo: Office, clock: object) -> str:
    """A quote for the one room that is taken."""
    made = demo.post("/v1/quotes", {**JOB, "rooms": JOB["rooms"][1:]})
    assert made.status_code == 201, made.text
    return f"/v1/quotes/{made.json['id']}"


def lists(demo: Office, where: str) -> dict[str, Any]:
    names = ("purchase-list", "pick-list", "crew-sheet")
    return {name: demo.get(f"{where}/{name}").json for name in names}


def quantities(picks: dict[str, Any]) -> list[tuple[Any, ...]]:
    return [(room["room"], one["role"], one["quantity"]) for room in picks["rooms"] for one in room["items"]]


def assert_enough(picks: dict[str, Any]) -> None:
    """What is picked of each material is in the packs, and nothing is bought that nothing needs."""
    for room in picks["rooms"]:
        for one in room["items"]:
            held = sum(each["packs"] * Decimal(each["pack_size"]) for each in one["packs"])
            assert not one["packs"] or held >= Decimal(one["quantity"]), one


def test_document_and_lists_are_about_the_rooms_taken(
    demo: Office, issued: TestResponse, alone: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    where = f"/v1/quotes/{issued.json['id']}"
    before, offered = lists(demo, where), demo.get(f"{where}/document").text
    taken = step(demo, issued, "accept", {**ACCEPT, "scope": {"rooms": ["Bath"]}}).json["acceptance"]
    for module in (recompute, part):  # what was accepted is read, not taken off again
        monkeypatch.delattr(module, "take_off" if module is recompute else "recomputed")
    assert "takeoff_id" not in taken
    assert "takeoff_id" not in demo.get(f"{where}/revisions").text
    after, single = lists(demo, where), lists(demo, alone)

    assert "Hall" in offered
    page = demo.get(f"{where}/document?detail=by_line").text
    assert "Of the offer these rooms were taken" in page
    assert "Hall" not in page
    for name in ("net", "tax", "gross"):
        assert f"${Decimal(taken[name]):,.2f}" in page, name
    assert f"${Decimal(issued.json['totals']['gross']):,.2f}" not in page
    assert f"${Decimal(issued.json['totals']['gross']):,.2f}" in offered

    assert quantities(after["pick-list"]) == quantities(single["pick-list"])
    assert_enough(after["pick-list"])
    bought = [one["packs"] != [] for room in after["pick-list"]["rooms"] for one in room["items"]]
    assert bought == [one["packs"] != [] for room in single["pick-list"]["rooms"] for one in room["items"]]
    assert after["crew-sheet"]["rooms"] == single["crew-sheet"]["rooms"]
    assert "Hall" not in str(after["crew-sheet"])
    assert "Hall" not in str(after["purchase-list"])
    goods = [sum(Decimal(o["goods"]) for o in each["purchase-list"]["orders"]) for each in (after, before)]
    assert 0 < goods[0] < goods[1]


def test_lists_of_all_of_it_stay_as_they_were(demo: Office, issued: TestResponse) -> None:
    where = f"/v1/quotes/{issued.json['id']}"
    before = lists(demo, where)
    step(demo, issued, "accept", ACCEPT)
    assert lists(demo, where) == before


def test_options_are_not_in_the_document_of_rooms_taken(demo: Office, clock: object) -> None:
    """Each stands in place of the whole offer, of which rooms were left out."""
    option = {"name": "Wide joint", "changes": {"joint": 5}}
    made = demo.post("/v1/quotes", {**JOB, "options": [option]})
    assert made.status_code == 201, made.text
    where = f"/v1/quotes/{made.json['id']}/document"
    assert step(demo, made, "issue").status_code == 200
    assert "Wide joint" in demo.get(where).text
    assert step(demo, made, "accept", {**ACCEPT, "scope": {"rooms": ["Bath"]}}).status_code == 200
    page = demo.get(where)
    assert page.status_code == 200, page.text
    assert "Wide joint" not in page.text
