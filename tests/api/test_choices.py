"""Products that the office chooses for a role: bought as chosen, refused by name where they cannot be."""

from __future__ import annotations

from typing import Any

import pytest

from service.api.schemas.room import ROLES_CHOSEN
from service.demo.run import demo_job
from service.demo.seed import table
from tests.api.conftest import Office

NOBODYS = "019a0000-0000-7000-8000-000000000000"
BATHROOM = 1
LASTS = {"membrane": "mat-two-standard", "band_mortar": "band-mortar-two", "grout": "grout-fine-sand"}


@pytest.fixture
def ids(demo: Office) -> dict[str, str]:
    """The demo's product ids by code."""
    return {item["code"]: item["id"] for item in demo.get("/v1/products?limit=200").json["items"]}


ROOM: dict[str, Any] = {
    "rectangle": {"length": 3000, "width": 2400},
    "tile": {"length": 300, "width": 300},
}


def choosing(role: str, product: str) -> dict[str, Any]:
    return {"rooms": [{**ROOM, "choices": {role: product}}]}


@pytest.mark.parametrize(
    ("path", "role"), [("/v1/quotes", "grout"), *(("/v1/takeoffs", role) for role in ROLES_CHOSEN)]
)
def test_a_product_that_nobody_has_is_refused_by_its_role(demo: Office, path: str, role: str) -> None:
    """Whether or not the room needs the role."""
    answer = demo.post(path, choosing(role, NOBODYS))
    assert (answer.status_code, answer.json["type"]) == (422, "/problems/invalid-input"), answer.text
    assert [error["pointer"] for error in answer.json["errors"]] == [f"/rooms/0/choices/{role}"]


def test_a_product_of_another_role_is_refused_and_named(demo: Office, ids: dict[str, str]) -> None:
    answer = demo.post("/v1/takeoffs", choosing("grout", ids["fitting"]))
    assert answer.status_code == 422
    [error] = answer.json["errors"]
    assert error["pointer"] == "/rooms/0/choices/grout"
    assert "profile_fitting" in error["detail"]
    skirting = choosing("skirting_tile", ids["tile-grey-300"])
    assert demo.post("/v1/takeoffs", skirting).status_code == 200, "skirting is cut from tile"


def test_a_choice_that_the_room_does_not_need_is_told(demo: Office, ids: dict[str, str]) -> None:
    room = demo.post("/v1/takeoffs", choosing("cove_profile", ids["cove-profile-12"])).json["rooms"][0]
    [told] = [finding for finding in room["findings"] if finding["rule"] == "unneeded_choice"]
    assert "cove profile" in told["message"]
    needed = demo.post("/v1/takeoffs", choosing("grout", ids["grout-fine-sand"])).json["rooms"][0]
    assert "unneeded_choice" not in {finding["rule"] for finding in needed["findings"]}


@pytest.mark.parametrize(("role", "code"), LASTS.items())
def test_a_chosen_product_is_bought(demo: Office, ids: dict[str, str], role: str, code: str) -> None:
    job = demo_job(ids)
    job["rooms"] = [job["rooms"][BATHROOM]]
    job["rooms"][0]["choices"] = {role: ids[code]}
    quote = demo.post("/v1/quotes", job).json
    assert {
        line["product"] for line in quote["lines"] if (line["kind"], line["role"]) == ("material", role)
    } == {ids[code]}


def test_a_choice_draws_the_whole_system_after_it(demo: Office, ids: dict[str, str]) -> None:
    job = demo_job(ids)
    job["rooms"] = [job["rooms"][BATHROOM]]
    job["rooms"][0]["choices"] = {"band_mortar": ids["band-mortar-two"]}
    quote = demo.post("/v1/quotes", job).json
    systems = {ids[product["key"]]: product.get("system") for product in table("price_table.toml")["product"]}
    of_quote = {systems[line["product"]] for line in quote["lines"] if line["product"]} - {None}
    assert of_quote == {"system two"}


def test_parts_of_two_systems_are_a_floor_that_is_refused(demo: Office, ids: dict[str, str]) -> None:
    job = demo_job(ids)
    job["rooms"] = [job["rooms"][BATHROOM]]
    job["rooms"][0]["choices"] = {
        "membrane": ids["mat-one-standard"],
        "band_mortar": ids["band-mortar-two"],
    }
    answer = demo.post("/v1/quotes", job)
    assert (answer.status_code, answer.json["totals"], answer.json["lines"]) == (201, None, [])
    refusals = [f for f in answer.json["rooms"][0]["findings"] if f["verdict"] == "refuse"]
    assert [refusal["rule"] for refusal in refusals] == ["one_system"]
    assert answer.json["refused"] is True


def test_a_membrane_is_laid_in_the_width_that_its_product_states(demo: Office) -> None:
    row = {"role": "membrane", "name": "Invented wide membrane", "unit": "m2"}
    stated = {"thickness": "standard", "width_mm": 1500}
    wide = demo.post("/v1/products", {**row, "attributes": stated})
    assert wide.status_code == 201, wide.text
    answer = demo.post("/v1/takeoffs", choosing("membrane", wide.json["id"])).json
    assert {strip["width_mm"] for strip in answer["rooms"][0]["membrane"]["strips"]} <= {1500.0, 900.0}
    [mat] = [material for material in answer["materials"] if material["role"] == "membrane"]
    assert {"attribute": "width_mm", "at_least": 1500.0, "at_most": 1500.0, "if_stated": True} in mat[
        "fitness"
    ]
