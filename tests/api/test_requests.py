"""Refused before any use case: missing keys and scopes, other media types, bodies that are none."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from service.api import examples
from service.api.framework.problems import KINDS
from tests.api.conftest import Office

SUPPLIERS = "/v1/suppliers"


def problem(answer: Any, status: int) -> dict[str, Any]:
    """The problem document, after checking what every one has (RFC 9457, 3.1)."""
    assert answer.status_code == status, answer.text
    assert answer.content_type == "application/problem+json"
    document: dict[str, Any] = answer.json
    assert document["status"] == status
    assert {"type", "title", "detail", "instance", "request_id"} <= document.keys()
    assert document["request_id"] == answer.headers["X-Request-Id"]
    kind = document["type"].removeprefix("/problems/")
    assert document["type"] == "about:blank" or kind in KINDS
    return document


@pytest.mark.parametrize(
    "header", [None, "", "Bearer", "Bearer  ", "Basic abc", "Bearer nobody's", "nobody's"]
)
def test_without_a_good_key_there_is_401_with_a_challenge(client: FlaskClient, header: str | None) -> None:
    headers = {} if header is None else {"Authorization": header}
    answer = client.get(SUPPLIERS, headers=headers)
    assert problem(answer, 401)["type"] == "/problems/unauthenticated"
    assert answer.headers["WWW-Authenticate"].startswith("Bearer")


def test_the_key_is_asked_for_before_the_body_is_read(client: FlaskClient) -> None:
    problem(client.post(SUPPLIERS, data="{nonsense", content_type="application/json"), 401)


def test_a_key_opens_only_what_its_scopes_name(new_office: Callable[..., Office]) -> None:
    quoting = new_office("quotes")
    assert problem(quoting.get(SUPPLIERS), 403)["type"] == "/problems/scope-missing"
    assert quoting.get("/v1/customers").status_code == 200
    assert new_office("prices").get(SUPPLIERS).status_code == 200
    assert problem(new_office("prices", "quotes").get("/v1/keys"), 403)
    assert new_office("admin").get(SUPPLIERS).status_code == 200


def send(office: Office, data: bytes | str, content_type: str = "application/json") -> Any:
    headers = {"Authorization": f"Bearer {office.key}"}
    return office.client.post(SUPPLIERS, data=data, content_type=content_type, headers=headers)


@pytest.mark.parametrize(
    "data",
    [
        "",
        "{",
        "nothing",
        '{"name": }',
        b"\xff\xfe",
        '{"name": 1, "name": 2}',
        "[" * 100_000,
        '{"a":' * 30 + "1" + "}" * 30,
    ],
)
def test_what_is_no_json_is_400(office: Office, data: bytes | str) -> None:
    assert problem(send(office, data), 400)["type"] == "/problems/malformed-body"


@pytest.mark.parametrize("number", ["NaN", "Infinity", "-Infinity", "1e999", "1" * 400])
def test_a_number_that_is_none_is_told_with_its_place(office: Office, number: str) -> None:
    document = problem(send(office, f'{{"name": "x", "lead_time_days": {number}}}'), 422)
    assert document["errors"][0]["pointer"] == "/lead_time_days"


def test_more_digits_than_a_number_has_is_400(office: Office) -> None:
    problem(send(office, '{"lead_time_days": ' + "1" * 5000 + "}"), 400)


@pytest.mark.parametrize("data", ["[]", "3", "null", '"text"'])
def test_json_of_another_shape_is_422(office: Office, data: str) -> None:
    assert problem(send(office, data), 422)["errors"]


@pytest.mark.parametrize("content_type", ["text/plain", "application/x-www-form-urlencoded", ""])
def test_another_media_type_is_415(office: Office, content_type: str) -> None:
    problem(send(office, '{"name": "x"}', content_type), 415)


def test_ten_megabytes_are_413_and_store_nothing(office: Office) -> None:
    body = '{"name": "' + "x" * 10_000_000 + '"}'
    problem(send(office, body), 413)
    assert office.get(SUPPLIERS).json["items"] == []


def test_unknown_places_and_methods_are_problems(client: FlaskClient) -> None:
    problem(client.get("/v1/nowhere"), 404)
    problem(client.get("/v1/suppliers/not-an-id"), 404)
    answer = client.patch(SUPPLIERS)
    problem(answer, 405)
    assert {"GET", "POST"} <= set(answer.headers["Allow"].split(", "))


def test_a_fault_of_ours_tells_nothing_but_its_request_id(
    app: Flask, office: Office, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fail(*_: object, **__: object) -> None:
        raise RuntimeError("the inside of the service")

    monkeypatch.setattr("service.quoting.catalogue.listing", fail)
    answer = office.get(SUPPLIERS, X_Request_Id="trace-12345")
    document = problem(answer, 500)
    assert "inside" not in answer.text
    assert document["request_id"] == "trace-12345"
    assert "builtins.RuntimeError" in capsys.readouterr().err


def test_every_answer_keeps_browsers_careful(office: Office) -> None:
    for answer in (office.get(SUPPLIERS), office.get("/nowhere"), office.get("/docs")):
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert "default-src 'none'" in answer.headers["Content-Security-Policy"]
        assert answer.headers["X-Request-Id"]


def test_a_request_id_that_could_break_a_log_is_replaced(client: FlaskClient) -> None:
    answer = client.get("/healthz", headers={"X-Request-Id": '"}{"injected'})
    assert "injected" not in answer.headers["X-Request-Id"]


class TestIdempotency:
    """The same request sent twice is done once."""

    def test_the_first_answer_comes_again_and_nothing_is_stored_anew(self, office: Office) -> None:
        first = office.post(SUPPLIERS, examples.SUPPLIER, Idempotency_Key="one")
        again = office.post(SUPPLIERS, examples.SUPPLIER, Idempotency_Key='"one"')
        assert (again.status_code, again.data) == (201, first.data)
        assert again.headers["Location"] == first.headers["Location"]
        assert again.headers["ETag"] == first.headers["ETag"]
        assert again.headers["Idempotency-Replayed"] == "true"
        assert len(office.get(SUPPLIERS).json["items"]) == 1

    def test_the_order_of_members_does_not_matter(self, office: Office) -> None:
        turned = dict(reversed(examples.SUPPLIER.items()))
        office.post(SUPPLIERS, examples.SUPPLIER, Idempotency_Key="one")
        assert office.post(SUPPLIERS, turned, Idempotency_Key="one").status_code == 201

    def test_another_body_or_path_under_the_key_is_422(self, office: Office) -> None:
        office.post(SUPPLIERS, examples.SUPPLIER, Idempotency_Key="one")
        other = {**examples.SUPPLIER, "name": "Other"}
        answer = office.post(SUPPLIERS, other, Idempotency_Key="one")
        assert problem(answer, 422)["type"] == "/problems/idempotency-reused"
        problem(office.post("/v1/customers", examples.CUSTOMER, Idempotency_Key="one"), 422)

    def test_a_refused_request_may_be_tried_again(self, office: Office) -> None:
        problem(office.post(SUPPLIERS, {"name": "x"}, Idempotency_Key="one"), 422)
        assert office.post(SUPPLIERS, examples.SUPPLIER, Idempotency_Key="one").status_code == 201

    def test_keys_are_each_organisations_own(self, new_office: Callable[..., Office]) -> None:
        for office in (new_office(), new_office()):
            answer = office.post(SUPPLIERS, examples.SUPPLIER, Idempotency_Key="one")
            assert answer.status_code == 201
            assert "Idempotency-Replayed" not in answer.headers

    def test_while_the_first_is_running_there_is_409(
        self, office: Office, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        from service.quoting import catalogue

        add, inner = catalogue.add, []

        def add_meanwhile(*args: Any) -> Any:
            if not inner:
                inner.append(office.post(SUPPLIERS, examples.SUPPLIER, Idempotency_Key="one"))
            return add(*args)

        monkeypatch.setattr(catalogue, "add", add_meanwhile)
        assert office.post(SUPPLIERS, examples.SUPPLIER, Idempotency_Key="one").status_code == 201
        assert problem(inner[0], 409)["type"] == "/problems/idempotency-in-flight"
        assert inner[0].headers["Retry-After"]

    @pytest.mark.parametrize("key", ["", "two words", "x" * 201, "ü"])
    def test_a_key_that_is_none_is_400(self, office: Office, key: str) -> None:
        problem(office.post(SUPPLIERS, examples.SUPPLIER, Idempotency_Key=key), 400)


class TestCursors:
    """A cursor belongs to the list and the filters that it came from."""

    def test_another_list_refuses_it(self, office: Office) -> None:
        for name in ("a", "b"):
            office.post(SUPPLIERS, {**examples.SUPPLIER, "name": name})
        cursor = office.get(f"{SUPPLIERS}?limit=1").json["next"]
        assert len(office.get(f"{SUPPLIERS}?limit=2&cursor={cursor}").json["items"]) == 1
        for other in ("/v1/customers?", f"{SUPPLIERS}?archived=true&"):
            document = problem(office.get(f"{other}cursor={cursor}"), 422)
            assert document["errors"][0]["parameter"] == "cursor"

    def test_a_parameter_given_twice_is_refused(self, office: Office) -> None:
        document = problem(office.get("/v1/quotes?state=draft&state=issued"), 422)
        assert [fault["parameter"] for fault in document["errors"]] == ["state"]
