"""The published description: valid, up to date, honest about its examples, and complete."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from jsonschema_rs import Draft202012Validator
from openapi_spec_validator import validate

from service.api.app import bare_app, spec_json

PUBLISHED = Path(__file__).parents[2] / "openapi" / "openapi.json"
SPEC: dict[str, Any] = json.loads(spec_json())
OPERATIONS = [
    (method, path, operation)
    for path, item in SPEC["paths"].items()
    for method, operation in item.items()
    if method != "parameters"
]
NAMED = [pytest.param(m, p, o, id=o["operationId"]) for m, p, o in OPERATIONS]


def test_it_is_valid_openapi() -> None:
    assert SPEC["openapi"].startswith("3.1")
    validate(SPEC)


def test_the_published_file_is_the_description_of_this_code() -> None:
    assert PUBLISHED.read_text("utf-8") == spec_json(), "run: python -m service openapi"


def test_it_is_the_same_text_every_time() -> None:
    assert spec_json() == spec_json()


@pytest.mark.parametrize(("method", "path", "operation"), NAMED)
def test_every_operation_says_what_it_is_and_how_it_fails(method: str, path: str, operation: Any) -> None:
    assert operation["summary"]
    assert operation["tags"]
    assert operation["operationId"].isidentifier()
    keyed = path.startswith("/v1/")
    assert operation["security"] == ([{"bearerKey": []}] if keyed else [])
    assert not keyed or {"401", "403"} <= operation["responses"].keys()
    for status, answer in operation["responses"].items():
        if status == "default" or int(status) >= 400:
            name = answer["$ref"].rpartition("/")[2]
            assert list(SPEC["components"]["responses"][name]["content"]) == ["application/problem+json"]


STEPS = {
    "accept_calibration",
    "activate_price_list",
    "withdraw_price_list",
    "end_agreement",
    "issue_quote",
    "accept_quote",
    "decline_quote",
    "withdraw_quote",
    "revise_quote",
    "erase_customer",
    "rotate_webhook",
    "rotate_key",
    "import_price_list",
}


@pytest.mark.parametrize(("method", "path", "operation"), NAMED)
def test_changes_name_their_precondition(method: str, path: str, operation: Any) -> None:
    headers = {p["name"] for p in operation.get("parameters", []) if p.get("in") == "header"}
    assert ("If-Match" in headers) == (
        method in {"put", "patch", "delete"} or operation["operationId"] in STEPS
    )
    assert ("412" in operation["responses"]) == ("If-Match" in headers)


STORES_NOTHING = {"take_off_rooms", "compare_variants", "make_ballpark"}
SHOWS_A_SECRET = {"make_key", "rotate_key", "add_webhook", "rotate_webhook"}
SETS_A_JOB_OFF = {
    "test_webhook",
    "retry_delivery",
    "start_repricing",
    "pause_repricing",
    "resume_repricing",
    "cancel_repricing",
}


@pytest.mark.parametrize(("method", "path", "operation"), NAMED)
def test_posts_that_store_take_an_idempotency_key_and_may_be_short(
    method: str, path: str, operation: Any
) -> None:
    headers = {p["name"] for p in operation.get("parameters", []) if p.get("in") == "header"}
    name = operation["operationId"]
    assert ("Idempotency-Key" in headers) == (method == "post" and name not in STORES_NOTHING)
    if "Idempotency-Key" in headers:
        assert ("Prefer" in headers) == (name not in SHOWS_A_SECRET | SETS_A_JOB_OFF)


def test_operation_ids_are_unique() -> None:
    ids = [operation["operationId"] for _, _, operation in OPERATIONS]
    assert len(ids) == len(set(ids))


def test_every_route_is_described_or_a_page_for_readers() -> None:
    app, _ = bare_app()
    routes = {
        rule.rule
        for rule in app.url_map.iter_rules()
        if not rule.endpoint.startswith(("pages.", "ballpark_form."))
    }
    described = {path.replace("{", "<").replace("}", ">") for path in SPEC["paths"]}
    bare = {"/".join(_bare(step) for step in route.split("/")) for route in routes}
    assert bare == described


def _bare(step: str) -> str:
    return f"<{step.strip('<>').rpartition(':')[2]}>" if step.startswith("<") else step


BODIES = [
    pytest.param(operation["requestBody"]["content"]["application/json"], id=operation["operationId"])
    for _, _, operation in OPERATIONS
    if "application/json" in operation.get("requestBody", {}).get("content", {})
]


@pytest.mark.parametrize("body", BODIES)
def test_the_example_of_every_body_fits_its_schema(body: dict[str, Any]) -> None:
    validator = Draft202012Validator({**body["schema"], "components": SPEC["components"]})
    assert list(validator.iter_errors(body["example"])) == []
    assert list(validator.iter_errors({**body["example"], "unknown": 1})), "an unknown member is a fault"


def test_exact_decimals_are_strings_and_lengths_both() -> None:
    schemas = SPEC["components"]["schemas"]
    assert schemas["Supplier"]["properties"]["delivery_charge"]["type"] == "string"
    assert schemas["Supplier"]["properties"]["minimum_order"]["type"] == ["string", "null"]
    kinds = [form["type"] for form in schemas["Rectangle"]["properties"]["length"]["oneOf"]]
    assert kinds == ["number", "string"]
    assert schemas["Totals"]["properties"]["gross"]["format"] == "decimal"


def test_the_service_publishes_what_the_file_says(client: FlaskClient) -> None:
    answer = client.get("/openapi.json")
    assert (answer.status_code, answer.content_type) == (200, "application/json")
    assert answer.text == spec_json()


def test_the_docs_page_asks_no_other_host(client: FlaskClient) -> None:
    page = client.get("/docs")
    assert page.status_code == 200
    assert "//" not in page.text.replace("<!doctype", "")
    for name in ("swagger-ui.css", "swagger-ui-bundle.js", "favicon-32x32.png", "start.js"):
        assert f"/docs/{name}" in page.text
        with client.get(f"/docs/{name}") as file:
            assert (file.status_code, len(file.data) > 50) == (200, True)
    assert client.get("/docs/..%2fflask_swagger_ui.py").status_code == 404
    assert client.get("/docs/VERSION").status_code == 404


def test_a_problem_type_leads_to_its_meaning(client: FlaskClient) -> None:
    listed = client.get("/problems").json
    assert listed
    for where, meaning in listed.items():
        assert client.get(where).json["meaning"] == meaning
    assert client.get("/problems/no-such").status_code == 404


def test_health_and_readiness(client: FlaskClient) -> None:
    assert client.get("/healthz").json == {"status": "ok"}
    assert client.get("/readyz").json == {"status": "ready"}


def test_query_parameters_are_described() -> None:
    """Every operation that pages, draws or chooses a view says how it is asked to."""
    asked = {o["operationId"]: {p.get("name") for p in o.get("parameters", [])} for _, _, o in OPERATIONS}
    assert asked["list_quotes"] >= {"limit", "cursor", "state"}
    assert asked["get_quote"] >= {"view", "If-None-Match"}
    assert asked["take_off_rooms"] >= {"room", "layers", "cut_list"}
    lists = [name for name in asked if name.startswith("list_") and name != "list_trade_values"]
    assert len(lists) >= 7
    assert all(asked[name] >= {"limit", "cursor"} for name in lists)
