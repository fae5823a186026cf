"""Variants side by side over HTTP: each as a quote of its own would be, differences that add up."""

from __future__ import annotations

from decimal import Decimal
from importlib import import_module
from typing import Any

import pytest

from service.api.schemas.changed import changed_room
from service.demo.run import demo_job
from tests.api.conftest import Office

ONE_ROOM = {
    "name": "Hall",
    "rectangle": {"length": 3100, "width": 2300},
    "tile": {"length": 300, "width": 300},
}


@pytest.fixture
def job(demo_tiles: dict[str, str]) -> dict[str, Any]:
    made = demo_job(demo_tiles)
    made.pop("customer")
    made["rooms"] = [{**room, "origin": "corner"} for room in (made["rooms"][0], made["rooms"][2])]
    return made


def pointers(answer: Any) -> list[str]:
    assert answer.status_code == 422, answer.text
    return [fault["pointer"] for fault in answer.json["errors"]]


def changed(job: dict[str, Any], changes: dict[str, Any]) -> dict[str, Any]:
    return {**job, "rooms": [{**room, **changes} for room in job["rooms"]]}


def test_each_variant_costs_what_a_quote_of_its_own_costs(
    demo: Office, job: dict[str, Any], demo_tiles: dict[str, str]
) -> None:
    """The independent way: the changed rooms posted as quotes."""
    sand, grey = ({"tile": {"product": demo_tiles[code]}} for code in ("tile-sand-600", "tile-grey-300"))
    bond = {"pattern": {"kind": "running_bond", "offset": "1/2"}}
    asked = [("as asked", {}), ("sand", sand), ("grey", grey), ("bond", bond), ("none", {"membrane": None})]
    variants = [{"name": name, "changes": changes} for name, changes in asked]
    found = demo.post("/v1/variants", {**job, "variants": variants}).json["variants"]
    assert [variant["name"] for variant in found] == [name for name, _ in asked]
    for variant, (_, changes) in zip(found, asked, strict=True):
        quote = demo.post("/v1/quotes", changed(job, changes)).json
        assert variant["totals"] == quote["totals"]
        assert variant["labour_hours"] == quote["labour_hours"]["total"]
        assert variant["refused"] == quote["refused"]


def test_terms_of_a_variant_are_put_on_the_same_goods(demo: Office, job: dict[str, Any]) -> None:
    """A quote on terms that were stored so is the independent way."""
    terms = demo.get("/v1/terms").json["items"][0]
    other = {name: terms[name] for name in terms if name not in {"id", "created_at", "version", "updated_at"}}
    other |= {"name": "Dearer", "is_default": False, "discount_percent": "4.5"}
    other["uplifts"] = {**other["uplifts"], "tile": {"method": "margin", "percent": "31"}}
    stored = demo.post("/v1/terms", other).json
    change = {"discount_percent": "4.5", "uplifts": {"tile": {"method": "margin", "percent": "31"}}}
    variants = [{"name": "a"}, {"name": "b", "terms_id": stored["id"]}, {"name": "c", "terms": change}]
    first, by_id, by_change = demo.post("/v1/variants", {**job, "variants": variants}).json["variants"]
    quote = demo.post("/v1/quotes", {**job, "terms_id": stored["id"]}).json
    assert by_id["totals"] == by_change["totals"] == quote["totals"] != first["totals"]
    assert by_id["difference"] == by_change["difference"]
    assert by_id["difference"]["causes"]["materials"] == "0.00"


def test_differences_add_up_by_cause_and_by_group(demo: Office, job: dict[str, Any]) -> None:
    variants = [
        {"name": "first"},
        {"name": "small", "changes": {"tile": {"length": 150, "width": 150}}},
        {"name": "kitchen", "rooms": [1], "changes": {"membrane": {"thickness": "thick"}}},
        {"name": "cheap", "terms": {"discount_percent": "7"}},
    ]
    found = demo.post("/v1/variants", {**job, "variants": variants}).json["variants"]
    first = found[0]
    assert Decimal(first["difference"]["gross"]) == 0
    for variant in found:
        told = variant["difference"]
        gross, net = (Decimal(variant["totals"][x]) - Decimal(first["totals"][x]) for x in ("gross", "net"))
        assert (Decimal(told["gross"]), Decimal(told["net"])) == (gross, net)
        assert sum(map(Decimal, told["causes"].values())) == gross
        assert sum(map(Decimal, told["groups"].values())) == net
        assert sum(map(Decimal, variant["groups"].values())) == Decimal(variant["totals"]["net"])


def test_a_refused_variant_shows_its_findings_beside_the_others(demo: Office, job: dict[str, Any]) -> None:
    weak = {"substrate": {"deflection": 120}}
    variants = [{"name": "sound"}, {"name": "weak", "rooms": [1], "changes": weak}]
    sound, refused = demo.post("/v1/variants", {**job, "variants": variants}).json["variants"]
    assert sound["totals"]
    assert not sound["refused"]
    assert refused["refused"]
    assert refused["totals"] is refused["groups"] is refused["difference"] is None
    assert any(found["verdict"] == "refuse" and found["room"] == "Kitchen" for found in refused["findings"])


def test_two_variants_of_one_name_are_refused(demo: Office, job: dict[str, Any]) -> None:
    answer = demo.post("/v1/variants", {**job, "variants": [{"name": "a"}, {"name": "b"}, {"name": "a"}]})
    assert (answer.status_code, pointers(answer)) == (422, ["/variants/2/name"])


def test_a_bad_variant_is_told_where_it_was_said(demo: Office, demo_tiles: dict[str, str]) -> None:
    def tried(variant: dict[str, Any], room: dict[str, Any] = ONE_ROOM) -> list[str]:
        variants = [{"name": "first"}, {"name": "second", **variant}]
        return pointers(demo.post("/v1/variants", {"rooms": [room], "variants": variants}))

    assert tried({"changes": {"tile": {"length": -1}}}) == ["/variants/1/changes/tile/length"]
    assert tried({"changes": {"joint": 99}}) == ["/variants/1/changes/joint"]
    assert tried({"changes": {"rectangle": None}}) == ["/variants/1/changes"]
    assert tried({"changes": {"focus": {"doorway": 3}}}) == ["/variants/1/changes/focus"]
    assert tried({"changes": {"colour": "red"}}) == ["/variants/1/changes/colour"]
    assert tried({"rooms": [1]}) == ["/variants/1/rooms/0"]
    assert tried({"terms": {"discount_percent": "101"}}) == ["/variants/1/terms/discount_percent"]
    unknown = "018f6f2e-3c4d-7a1b-9c2d-3e4f5a6b7c8d"
    assert tried({"terms_id": unknown}) == ["/variants/1/terms_id"]
    assert tried({"changes": {"tile": {"product": unknown}}}) == ["/variants/1/changes/tile/product"]
    grout = demo.get("/v1/products?role=grout").json["items"][0]["id"]
    mortar = {"choices": {"tile_mortar": grout}}
    assert tried({"changes": mortar}) == ["/variants/1/changes/choices/tile_mortar"]
    assert set(tried({"changes": {"joint": 40}})) == {"/variants/1"}, "no grout on sale fills such a joint"
    bow = {**ONE_ROOM, "outline": [[0, 0], [1000, 0], [0, 1000], [1000, 1000]]}
    bow.pop("rectangle")
    assert tried({}, bow) == ["/rooms/0/outline"]
    assert pointers(demo.post("/v1/variants", {"rooms": [ONE_ROOM], "variants": []})) == ["/variants"]
    many = [{"name": str(n)} for n in range(21)]
    assert pointers(demo.post("/v1/variants", {"rooms": [ONE_ROOM], "variants": many})) == ["/variants"]


def test_nothing_is_stored(demo: Office) -> None:
    assert demo.post("/v1/variants", {"rooms": [ONE_ROOM], "variants": [{"name": "one"}]}).status_code == 200
    assert demo.get("/v1/quotes").json["items"] == []


def test_a_change_is_a_merge_patch() -> None:
    """RFC 7396, section 3; null stays where a room may say null, since it means something there."""
    room = {"tile": {"length": 300, "width": 300}, "pattern": {"kind": "stack_bond"}, "joint": 3}
    assert changed_room(room, {"joint": None}) == {name: room[name] for name in ("tile", "pattern")}
    assert changed_room(room, {"membrane": None})["membrane"] is None
    assert changed_room(room, {"tile": {"thickness": 8}})["tile"] == {**room["tile"], "thickness": 8}
    assert changed_room(room, {"tile": {"product": "x"}})["tile"] == {"product": "x"}
    assert changed_room({"tile": {"product": "x"}}, {"tile": room["tile"]})["tile"] == room["tile"]
    assert room["joint"] == 3


@pytest.mark.full
def test_twenty_other_layouts_of_an_ordinary_job_are_compared(demo: Office) -> None:
    rooms = [
        {**ONE_ROOM, "name": f"Room {n}", "rectangle": {"length": 3100 + 100 * n, "width": 2300}}
        for n in range(3)
    ]
    patterns = [{"kind": "stack_bond", "rotation": 45}, {"kind": "running_bond", "offset": "1/2"}]
    variants = [
        {
            "name": f"Variant {n}",
            "changes": {
                "tile": {"length": 2 * (150 + 5 * (n // 2)), "width": 300},
                "pattern": patterns[n % 2],
            },
        }
        for n in range(20)
    ]
    answer = demo.post("/v1/variants", {"rooms": rooms, "variants": variants})
    assert answer.status_code == 200, answer.text


def test_what_is_too_much_is_told_before_anything_is_laid_out(
    demo: Office, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delattr(import_module("service.quoting.variants.compare"), "take_off")
    halls = [
        {**ONE_ROOM, "name": f"Hall {width}", "rectangle": {"length": 40000, "width": width}}
        for width in (39000, 40000)
    ]
    variants = [
        {
            "name": str(n),
            "changes": {"tile": {"length": 300 + n, "width": 300}, "pattern": {"rotation": 30}},
        }
        for n in range(20)
    ]
    answer = demo.post("/v1/variants", {"rooms": halls, "variants": variants})
    where = pointers(answer)[0]
    assert where.startswith("/variants/")
    assert int(where.split("/")[2]) > 8
    assert "a request may ask for 5,000" in answer.text
