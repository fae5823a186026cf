"""From one revision to the next: what moved, and parts that add up to the whole."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from service.api.framework.patch import merged
from service.demo.run import demo_job
from service.quoting.quotes.changes import Change, document_changes
from tests.api.conftest import Office
from tests.api.test_quote_life import JOB, clock, patch

__all__ = ["clock"]
DEARER = Decimal("1.05")


def compared(demo: Office, quote_id: str, number: int = 1, to: int | None = None) -> dict[str, Any]:
    answer = demo.get(f"/v1/quotes/{quote_id}/revisions/{number}/difference{f'?to={to}' if to else ''}")
    assert answer.status_code == 200, answer.text
    told: dict[str, Any] = answer.json
    if told["total"] is not None:
        for name in ("net", "gross"):
            assert sum(Decimal(part[name]) for part in told["parts"]) == Decimal(told["total"][name])
    return told


def test_the_same_again_moves_nothing(demo: Office, clock: object) -> None:
    made = demo.post("/v1/quotes", JOB)
    patch(demo, made, {})
    told = compared(demo, made.json["id"])
    assert (told["before"], told["after"], told["parts"]) == (1, 2, [])
    assert told["inputs"] == told["quantities"] == told["prices"] == told["terms"] == []
    assert told["total"] == {"net": "0.00", "gross": "0.00"}


def test_a_room_that_grows_is_a_cause_of_inputs(demo: Office, clock: object) -> None:
    made = demo.post("/v1/quotes", JOB)
    larger = {**JOB["rooms"][0], "rectangle": {"length": 3600, "width": 2000}}
    after = patch(demo, made, {"rooms": [larger, JOB["rooms"][1]]}).json
    told = compared(demo, made.json["id"])
    assert told["inputs"] == [{"pointer": "/rooms/0/rectangle/length", "before": 3000, "after": 3600}]
    assert [part["causes"] for part in told["parts"]] == [["inputs"]]
    assert Decimal(told["total"]["gross"]) == Decimal(after["totals"]["gross"]) - Decimal(
        made.json["totals"]["gross"]
    )
    tile = next(moved for moved in told["quantities"] if moved["what"] == "tile")
    assert Decimal(tile["after"]) > Decimal(tile["before"]) > 0
    back = compared(demo, made.json["id"], 2, 1)
    assert back["total"]["gross"] == str(-Decimal(told["total"]["gross"]))


def test_each_cause_has_its_part(demo: Office, clock: object) -> None:
    """Dearer hours, other terms and a larger room at once: three parts, in their order."""
    made = demo.post("/v1/quotes", JOB)
    table = demo.get("/v1/labour-rates").json["items"][0]
    rates = demo.get(f"/v1/labour-rates/{table['id']}").json
    kept = {name: value for name, value in rates.items() if name not in ("id", "created_at", "version")}
    changed = {**kept, "hourly_cost": "90.00"}
    assert demo.put(f"/v1/labour-rates/{table['id']}", changed, If_Match="*").status_code == 200
    terms = demo.get("/v1/terms").json["items"][0]
    kept = {name: value for name, value in terms.items() if name not in ("id", "created_at", "version")}
    cheaper = {**kept, "discount_percent": "10"}
    assert demo.put(f"/v1/terms/{terms['id']}", cheaper, If_Match="*").status_code == 200
    larger = {**JOB["rooms"][0], "rectangle": {"length": 3600, "width": 2000}}
    patch(demo, made, {"rooms": [larger, JOB["rooms"][1]]})
    told = compared(demo, made.json["id"])
    parts = {tuple(part["causes"]): Decimal(part["net"]) for part in told["parts"]}
    assert list(parts) == [("inputs",), ("labour_rates",), ("terms",)]
    assert parts["inputs",] > 0
    assert parts["labour_rates",] > 0 > parts["terms",]
    pointers = {change["pointer"] for change in told["terms"]}
    assert pointers == {"/terms/discount_percent", "/labour_table/hourly_cost"}
    assert told["summary"][-1] == f"In all: {Decimal(told['total']['gross']):+} USD"


def test_a_price_that_moved_is_a_cause_of_prices(demo: Office, clock: object) -> None:
    made = demo.post("/v1/quotes", JOB)
    for head in demo.get("/v1/price-lists").json["items"]:
        items = demo.get(f"/v1/price-lists/{head['id']}/items").json["items"]
        kept = ("product_id", "pack_size", "min_packs")
        dearer = [
            {**{name: item[name] for name in kept}, "price": str(DEARER * Decimal(item["price"]))}
            for item in items
        ]
        later = {"supplier_id": head["supplier_id"], "name": "Dearer", "valid_from": "2026-05-01"}
        where = demo.post("/v1/price-lists", later).headers["Location"]
        assert demo.put(f"{where}/items", {"items": dearer}, If_Match="*").status_code == 200
        assert demo.post(f"{where}/activate", If_Match="*").status_code == 200
    patch(demo, made, {})
    told = compared(demo, made.json["id"])
    assert [part["causes"] for part in told["parts"]] == [["prices"]]
    assert told["quantities"] == []
    assert told["prices"]
    assert all(Decimal(moved["after"]) == DEARER * Decimal(moved["before"]) for moved in told["prices"])


def test_without_a_price_there_are_changes_and_no_parts(demo: Office, clock: object) -> None:
    made = demo.post("/v1/quotes", JOB)
    wet = {"kind": "concrete_on_ground", "moisture": {"method": "rh", "value": 99}, "age_days": 90}
    assert patch(demo, made, {"rooms": [{**JOB["rooms"][0], "substrate": wet}]}).json["totals"] is None
    told = compared(demo, made.json["id"])
    assert (told["total"], told["parts"]) == (None, [])
    assert told["inputs"][0]["pointer"] == "/rooms"


def test_revisions_that_are_not_there(demo: Office, clock: object) -> None:
    made = demo.post("/v1/quotes", JOB).json["id"]
    for path in ("3/difference", "1/difference?to=9"):
        assert demo.get(f"/v1/quotes/{made}/revisions/{path}").status_code == 404
    assert demo.get(f"/v1/quotes/{made}/revisions/1/difference?to=0").status_code == 422


LEAVES = st.none() | st.booleans() | st.integers() | st.text(max_size=3)
DOCUMENTS = st.recursive(
    LEAVES,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=3), inner, max_size=3),
    max_leaves=8,
)


def at(document: Any, pointer: str) -> Any:
    """RFC 6901, as a reader would do it; None for what is not there."""
    for step in pointer.split("/")[1:]:
        name = step.replace("~1", "/").replace("~0", "~")
        document = document[int(name)] if isinstance(document, list) else document.get(name)
    return document


@given(DOCUMENTS, DOCUMENTS)
def test_changes_point_at_what_they_say(before: Any, after: Any) -> None:
    found = list(document_changes(before, after))
    for change in found:
        assert (at(before, change.pointer), at(after, change.pointer)) == (change.before, change.after)
    assert list(document_changes(before, before)) == []


def test_merge_patches_of_the_standards_own_examples() -> None:
    """RFC 7396, appendix A."""
    for target, change, result in (
        ({"a": "b"}, {"a": "c"}, {"a": "c"}),
        ({"a": "b"}, {"b": "c"}, {"a": "b", "b": "c"}),
        ({"a": "b"}, {"a": None}, {}),
        ({"a": "b", "b": "c"}, {"a": None}, {"b": "c"}),
        ({"a": ["b"]}, {"a": "c"}, {"a": "c"}),
        ({"a": "c"}, {"a": ["b"]}, {"a": ["b"]}),
        ({"a": {"b": "c"}}, {"a": {"b": "d", "c": None}}, {"a": {"b": "d"}}),
        ({"a": [{"b": "c"}]}, {"a": [1]}, {"a": [1]}),
        (["a", "b"], ["c", "d"], ["c", "d"]),
        ({"a": "b"}, ["c"], ["c"]),
        ({"a": "foo"}, None, None),
        ({"a": "foo"}, "bar", "bar"),
        ({"e": None}, {"a": 1}, {"e": None, "a": 1}),
        ([1, 2], {"a": "b", "c": None}, {"a": "b"}),
        ({}, {"a": {"bb": {"ccc": None}}}, {"a": {"bb": {}}}),
    ):
        assert merged(target, change) == result


def test_a_change_at_the_root_has_the_empty_pointer() -> None:
    assert list(document_changes(1, 2)) == [Change("", 1, 2)]


def test_how_it_is_bought_is_a_cause_of_its_own(
    demo: Office, demo_tiles: dict[str, str], clock: object
) -> None:
    made = demo.post("/v1/quotes", demo_job(demo_tiles))
    least = min(made.json["basket"]["orders"], key=lambda order: Decimal(order["goods"]))
    buying = {"preferred": [least["supplier"]], "tolerated_extra_percent": "100"}
    after = patch(demo, made, {"buying": buying})
    assert after.status_code == 201, after.text
    told = compared(demo, made.json["id"])
    assert told["inputs"] == [{"pointer": "/buying", "before": None, "after": buying}]
    assert [part["causes"] for part in told["parts"]] == [["buying"]]
    assert told["summary"][0].startswith("How it is bought: ")
