"""Products that the office chooses for a role: bought as chosen, refused by name where they cannot be."""

from __future__ import annotations

from typing import Any

import pytest

from service.api.schemas.room import ROLES_CHOSEN
from service.demo.run import demo_job
from service.demo.seed import table
from tests.api.conftest import Office

NOBODYS = "019a0000-0000-7000-8000-000000000000"
BATHROOM, KITCHEN = 1, 2
LASTS = {"membrane": "mat-two-standard", "band_mortar": "band-mortar-two", "grout": "grout-fine-sand"}


@pytest.fixture
def ids(demo: Office) -> dict[str, str]:
    """The demo's product ids by code."""
    return {item["code"]: item["id"] for item in demo.get("/v1/products?limit=200").json["items"]}


@pytest.fixture
def job(ids: dict[str, str]) -> dict[str, Any]:
    """A wet room that needs every role which can be chosen."""
    job = demo_job(ids)
    [bath] = job["rooms"] = [job["rooms"][BATHROOM]]
    bath |= {
        "heating": "electric",
        "walls": [0, 3, 4, 5],
        "movement_joint": "profile",
        "membrane": {"thickness": "thick"},
        "falls": "none",
        "zones": [{"outline": [[0, 0], [900, 0], [900, 900], [0, 900]], "exposure": "wet", "sunlit": True}],
        "choices": {"skirting_profile": ids["skirting-profile-8"]},
    }
    bath["doorways"].append({"wall": 3, "offset": 200, "width": 700, "adjoining": "tile"})
    bath["substrate"] |= {"kind": "screed_calcium_sulfate", "flatness": {"gap": 12, "under": 3000}}
    bath["substrate"]["moisture"] = {"method": "cm", "value": 0.2}
    return job


@pytest.mark.parametrize("role", ROLES_CHOSEN)
def test_a_product_that_nobody_has_is_refused_by_its_role(
    demo: Office, job: dict[str, Any], role: str
) -> None:
    job["rooms"][0]["choices"][role] = NOBODYS
    answer = demo.post("/v1/quotes", job)
    assert (answer.status_code, answer.json["type"]) == (422, "/problems/unpriceable"), answer.text
    assert answer.json["detail"].endswith(f": {role}.")


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
