"""Webhooks over HTTP: the secret shown once, addresses refused by their field, deliveries looked at."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from sqlalchemy import Engine, text

from service.api import examples
from service.jobs.worker import run_worker
from service.settings import Settings, load_settings
from service.store.keys import key_in_force
from service.store.session import open_session
from tests.api.conformance import spec
from tests.api.conftest import Office, app, demo, new_office, office, operations, settings
from tests.conftest import PEPPER
from tests.webhooks.receiver import Receiver, signed_by

__all__ = ["app", "demo", "new_office", "office", "operations", "settings"]
PATH = "/v1/webhooks"


@pytest.fixture(scope="module")
def settings(database_url: str) -> Settings:  # noqa: F811
    """As for all tests of the API, and this machine may be told."""
    return load_settings(
        {"DATABASE_URL": database_url, "KEY_PEPPER": PEPPER, "WEBHOOK_TEST_NETWORK": "127.0.0.1/32"}
    )


def add(office: Office, url: str = examples.WEBHOOK["url"], **other: Any) -> Any:
    made = office.post(PATH, {**examples.WEBHOOK, "url": url, **other})
    assert made.status_code == 201, made.text
    return made


def test_a_webhook_is_made_read_changed_and_deleted(office: Office) -> None:
    made = add(office)
    where = made.headers["Location"]
    assert made.json["secret"].startswith("whsec_")
    read = office.get(where)
    assert read.json == {name: value for name, value in made.json.items() if name != "secret"}
    assert made.json["secret"] not in office.get(PATH).text
    changed = {**examples.WEBHOOK, "events": ["quote.revised", "quote.revised"]}
    assert office.put(where, changed).status_code == 428
    assert office.put(where, changed, If_Match='"v7"').status_code == 412
    put = office.put(where, changed, If_Match=read.headers["ETag"])
    assert (put.json["events"], put.headers["ETag"]) == (["quote.revised"], '"v2"')
    assert office.delete(where, If_Match='"v1"').status_code == 412
    assert office.delete(where, If_Match='"v2"').status_code == 204
    assert office.get(where).status_code == 404


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"url": "https://10.0.0.1/"}, "/url"),
        ({"url": "https://[::1]/"}, "/url"),
        ({"url": "https://169.254.169.254/latest"}, "/url"),
        ({"url": "https://2130706433/"}, "/url"),
        ({"url": "ftp://hooks.example.com/"}, "/url"),
        ({"url": "https://a:b@hooks.example.com/"}, "/url"),
        ({"url": 5}, "/url"),
        ({"url": "https://hooks.example.com/" + "a" * 2000}, "/url"),
        ({"events": []}, "/events"),
        ({"events": ["quote.issued", "quote.lost"]}, "/events/1"),
        ({"description": "a" * 201}, "/description"),
        ({"state": "broken"}, "/state"),
        ({"secret": "whsec_mine"}, "/secret"),
    ],
)
def test_a_wrong_field_is_told_and_nothing_stored(
    office: Office, change: dict[str, Any], pointer: str
) -> None:
    answer = office.post(PATH, {**examples.WEBHOOK, **change})
    assert (answer.status_code, answer.json["errors"][0]["pointer"]) == (422, pointer)
    assert office.get(PATH).json["items"] == []


def test_a_changed_address_is_judged_like_a_new_one(office: Office) -> None:
    where = add(office).headers["Location"]
    answer = office.put(where, {**examples.WEBHOOK, "url": "https://192.168.0.1/"}, If_Match="*")
    assert (answer.status_code, answer.json["errors"][0]["pointer"]) == (422, "/url")
    assert office.get(where).json["url"] == examples.WEBHOOK["url"]


def test_only_admins_of_the_organisation(new_office: Callable[..., Office], office: Office) -> None:
    where = add(office).headers["Location"]
    assert new_office("quotes", "prices").get(PATH).status_code == 403
    stranger = new_office()
    for answer in (
        stranger.get(where),
        stranger.delete(where, If_Match="*"),
        stranger.post(f"{where}/rotate", {}, If_Match="*"),
        stranger.post(f"{where}/test"),
        stranger.get(f"{where}/deliveries"),
    ):
        assert answer.status_code == 404


def test_sent_twice_under_one_name_there_is_one_webhook_and_one_rotation(office: Office) -> None:
    first, again = (office.post(PATH, examples.WEBHOOK, Idempotency_Key="w") for _ in range(2))
    assert (again.json, again.headers["ETag"]) == (first.json, first.headers["ETag"])
    assert len(office.get(PATH).json["items"]) == 1
    where = first.headers["Location"]
    short = {"If_Match": '"v1"', "Idempotency_Key": "r", "Prefer": "return=minimal"}
    turned, again = (office.post(f"{where}/rotate", {}, **short) for _ in range(2))
    assert turned.json["secret"] == again.json["secret"] != first.json["secret"], "never shortened away"
    assert office.get(where).headers["ETag"] == turned.headers["ETag"] == '"v2"'


def test_every_event_that_can_be_asked_for_is_described() -> None:
    described = spec()["components"]["schemas"]["Webhook"]["properties"]["events"]["items"]["enum"]
    assert sorted(spec()["webhooks"]) == sorted(described)


def test_their_record_is_for_admins(office: Office) -> None:
    add(office)
    key = office.post("/v1/keys", {"name": "prices", "scopes": ["prices"]}).json["key"]
    told = [who.get("/v1/audit").json["items"] for who in (office, Office(office.client, key))]
    assert [[item["subject"] for item in items] for items in told] == [["webhook"], []]


def test_an_issued_quote_arrives_by_the_worker(demo: Office, settings: Settings, receiver: Receiver) -> None:
    made = add(demo, receiver.url)
    body = {"rooms": [{"rectangle": {"length": 3000, "width": 2000}, "tile": {"length": 300, "width": 300}}]}
    quote = demo.post("/v1/quotes", body)
    assert quote.status_code == 201, quote.text
    where = f"/v1/quotes/{quote.json['id']}"
    asked = demo.post(f"{where}/issue", {}, If_Match="*").json
    wanted = [fault["detail"] for fault in asked.get("errors", [])]
    if wanted:
        asked = demo.post(f"{where}/issue", {"accept_assumptions": wanted}, If_Match="*").json
    assert asked["state"] == "issued"
    run_worker(settings, until_idle=True)
    ((headers, sent),) = receiver.came
    assert signed_by(made.json["secret"], headers, sent)
    (told,) = receiver.bodies
    totals = asked["totals"]
    assert told["data"]["totals"] == {name: totals[name] for name in ("net", "tax", "gross")}
    assert (told["type"], told["data"]["number"]) == ("quote.issued", asked["number"])
    (item,) = demo.get(f"{made.headers['Location']}/deliveries").json["items"]
    assert (item["state"], item["attempts"], item["last_status"]) == ("delivered", 1, 204)
    assert item["event_id"] == headers["webhook-id"]


def test_a_test_message_and_sending_again(office: Office, settings: Settings, receiver: Receiver) -> None:
    where = add(office, receiver.url, events=["quote.expired"]).headers["Location"]
    tried = office.post(f"{where}/test", Idempotency_Key="once")
    assert office.post(f"{where}/test", Idempotency_Key="once").json == tried.json
    assert (tried.status_code, tried.json["event"], tried.json["state"]) == (202, "webhook.test", "waiting")
    run_worker(settings, until_idle=True)
    again = office.post(f"{where}/deliveries/{tried.json['id']}/retry")
    assert (again.status_code, again.json["state"]) == (202, "waiting")
    run_worker(settings, until_idle=True)
    assert receiver.ids == [tried.json["event_id"]] * 2
    (item,) = office.get(f"{where}/deliveries").json["items"]
    assert (item["state"], item["attempts"]) == ("delivered", 2)
    other = add(office, receiver.url).headers["Location"]
    assert office.post(f"{other}/deliveries/{tried.json['id']}/retry").status_code == 404


def test_a_rotated_secret_is_shown_once(office: Office) -> None:
    made = add(office)
    where = made.headers["Location"]
    assert office.post(f"{where}/rotate", {}).status_code == 428
    rotated = office.post(f"{where}/rotate", If_Match=made.headers["ETag"])
    assert rotated.status_code == 200, rotated.text
    assert rotated.json["secret"] != made.json["secret"]
    assert rotated.json["former_secret_until"] > rotated.json["rotated_at"]
    assert "secret" not in office.get(where).json
    at_once = office.post(f"{where}/rotate", {"overlap_hours": 0}, If_Match="*")
    assert at_once.json["former_secret_until"] is None
    wrong = office.post(f"{where}/rotate", {"overlap_hours": 169}, If_Match="*")
    assert wrong.json["errors"][0]["pointer"] == "/overlap_hours"


def test_a_disabled_webhook_is_sent_nothing_and_can_be_enabled(office: Office, receiver: Receiver) -> None:
    where = add(office, receiver.url).headers["Location"]
    tried = office.post(f"{where}/test").json
    off = office.put(where, {**examples.WEBHOOK, "state": "disabled"}, If_Match="*")
    assert off.json["disabled_reason"]
    assert office.get(f"{where}/deliveries").json["items"][0]["state"] == "stopped"
    assert office.post(f"{where}/test").status_code == 409
    assert office.post(f"{where}/deliveries/{tried['id']}/retry").status_code == 409
    on = office.put(where, examples.WEBHOOK, If_Match=off.headers["ETag"])
    assert (on.json["state"], on.json["disabled_reason"]) == ("enabled", None)
    assert office.post(f"{where}/deliveries/{tried['id']}/retry").status_code == 202


def test_deliveries_come_by_pages(office: Office) -> None:
    where = add(office).headers["Location"]
    made = [office.post(f"{where}/test").json["id"] for _ in range(3)]
    first = office.get(f"{where}/deliveries?limit=2")
    second = office.get(first.headers["Link"].partition(">")[0].strip("<"))
    assert [item["id"] for item in first.json["items"] + second.json["items"]] == made[::-1]


def test_the_secret_is_not_stored_in_clear(office: Office, live_engine: Engine) -> None:
    made = add(office)
    with open_session(live_engine) as session:
        key_in_force(session, office.key, PEPPER)
        stored = session.scalar(text("SELECT webhooks::text FROM webhooks"))
    assert made.json["secret"].removeprefix("whsec_") not in str(stored)
