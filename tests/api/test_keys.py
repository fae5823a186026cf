"""API keys over HTTP: shown once, scoped, revoked, each organisation's own."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta

from sqlalchemy import Engine, create_engine, text

from service import create_app
from service.api import examples
from service.settings import Settings
from service.store.engine import sqlalchemy_url
from tests.api.conftest import Office


def stored(database_url: str, query: str) -> str:
    """What the owner of the tables reads, all of it as text."""
    owner = create_engine(sqlalchemy_url(database_url))
    with owner.connect() as connection:
        found = str(connection.execute(text(query)).all())
    owner.dispose()
    return found


def test_a_new_key_works_is_shown_once_and_ends_when_revoked(office: Office) -> None:
    made = office.post("/v1/keys", examples.KEY)
    assert made.status_code == 201, made.text
    key = made.json["key"]
    fresh = Office(office.client, key)
    assert fresh.get("/v1/suppliers").status_code == 200
    assert fresh.get("/v1/keys").status_code == 403

    listed = office.get("/v1/keys")
    assert key not in listed.text
    assert made.json["prefix"] in [item["prefix"] for item in listed.json["items"]]

    where, tag = made.headers["Location"], made.headers["ETag"]
    read = office.get(where)
    assert read.json == {name: value for name, value in made.json.items() if name != "key"} | {
        "last_used_at": read.json["last_used_at"]
    }
    assert office.delete(where).status_code == 428
    assert office.delete(where, If_Match='"v2"').status_code == 412
    assert office.delete(where, If_Match=tag).status_code == 204
    assert fresh.get("/v1/suppliers").status_code == 401
    assert office.delete(where, If_Match=tag).status_code == 412, "it has changed since: it is revoked"
    revoked = office.get(where)
    assert office.delete(where, If_Match=revoked.headers["ETag"]).status_code == 204
    assert office.get(where).json == revoked.json, "revoking again changes nothing"


def test_sent_twice_under_one_name_there_is_one_key_and_no_table_holds_it(
    office: Office, database_url: str
) -> None:
    first, again = (office.post("/v1/keys", examples.KEY, Idempotency_Key="k") for _ in range(2))
    assert (again.json, again.headers["Idempotency-Replayed"]) == (first.json, "true")
    assert len(office.get("/v1/keys").json["items"]) == 2, "the office's own and this one"
    key = first.json["key"]
    assert Office(office.client, key).get("/v1/suppliers").status_code == 200
    kept = stored(database_url, "SELECT convert_from(body, 'UTF8') FROM idempotency_keys")
    assert key not in kept
    other = office.post("/v1/keys", {**examples.KEY, "name": "other"}, Idempotency_Key="k")
    assert other.status_code == 422


def test_only_a_hash_is_stored(office: Office, database_url: str) -> None:
    key = office.post("/v1/keys", examples.KEY).json["key"]
    kept = stored(database_url, "SELECT * FROM api_keys")
    assert key not in kept
    assert "test" in kept


def test_an_expired_key_is_no_key(office: Office) -> None:
    body = {**examples.KEY, "expires_at": "2020-01-01T00:00:00Z"}
    key = office.post("/v1/keys", body).json["key"]
    assert Office(office.client, key).get("/v1/suppliers").status_code == 401


def test_a_key_of_another_organisation_cannot_be_seen_or_revoked(new_office: Callable[..., Office]) -> None:
    ours, theirs = new_office(), new_office()
    made = theirs.post("/v1/keys", examples.KEY)
    assert ours.delete(made.headers["Location"], If_Match="*").status_code == 404
    assert len(ours.get("/v1/keys").json["items"]) == 1
    assert Office(ours.client, made.json["key"]).get("/v1/suppliers").status_code == 200


def test_scopes_are_a_closed_list(office: Office) -> None:
    answer = office.post("/v1/keys", {"name": "x", "scopes": ["quotes", "everything"]})
    assert answer.status_code == 422
    assert answer.json["errors"][0]["pointer"] == "/scopes/1"


def test_a_rotated_key_works_beside_the_new_one_for_the_overlap(office: Office, database_url: str) -> None:
    made = office.post("/v1/keys", {**examples.KEY, "requests_per_minute": 7})
    where, tag = made.headers["Location"], made.headers["ETag"]
    old = Office(office.client, made.json["key"])
    rotated = office.post(f"{where}/rotate", {"overlap_hours": 1}, If_Match=tag, Idempotency_Key="r")
    again = office.post(f"{where}/rotate", {"overlap_hours": 1}, If_Match=tag, Idempotency_Key="r")
    assert (rotated.status_code, again.json) == (201, rotated.json)
    same = ("name", "scopes", "origins", "requests_per_minute", "publishable")
    assert {name: rotated.json[name] for name in same} == {name: made.json[name] for name in same}
    assert rotated.json["expires_at"] is None
    fresh = Office(office.client, rotated.json["key"])
    assert [each.get("/v1/suppliers").status_code for each in (old, fresh)] == [200, 200]
    ends = datetime.fromisoformat(office.get(where).json["expires_at"])
    assert timedelta(minutes=59) < ends - datetime.now(UTC) < timedelta(minutes=61)
    assert office.post(f"{where}/rotate", If_Match=tag).status_code == 412

    at_once = office.post(f"{rotated.headers['Location']}/rotate", {"overlap_hours": 0}, If_Match="*")
    assert fresh.get("/v1/suppliers").status_code == 401
    newest = Office(office.client, at_once.json["key"])
    assert newest.get("/v1/suppliers").status_code == 200
    over = office.post(f"{rotated.headers['Location']}/rotate", {"overlap_hours": 0}, If_Match="*")
    assert over.status_code == 409, "it has ended"


def test_the_overlap_never_outlives_the_key(office: Office) -> None:
    body = {**examples.KEY, "expires_at": (datetime.now(UTC) + timedelta(minutes=5)).isoformat()}
    made = office.post("/v1/keys", body)
    rotated = office.post(f"{made.headers['Location']}/rotate", If_Match="*")
    told = {office.get(made.headers["Location"]).json["expires_at"], rotated.json["expires_at"]}
    assert told == {made.json["expires_at"]}


def test_each_key_has_its_quota_and_is_told_how_it_stands(
    settings: Settings, live_engine: Engine, office: Office
) -> None:
    client = create_app(replace(settings, requests_per_key=3), live_engine).test_client()
    narrow = Office(client, office.post("/v1/keys", {**examples.KEY, "requests_per_minute": 2}).json["key"])
    usual = Office(client, office.post("/v1/keys", examples.KEY).json["key"])
    for left in (1, 0):
        told = narrow.get("/v1/suppliers")
        assert told.headers["RateLimit-Policy"] == '"requests";q=2;w=60'
        assert told.headers["RateLimit"].startswith(f'"requests";r={left};t=')
    refused = narrow.get("/v1/suppliers")
    assert (refused.status_code, refused.json["type"]) == (429, "/problems/too-many")
    assert 1 <= int(refused.headers["Retry-After"]) <= 60
    assert [usual.get("/v1/keys").status_code for _ in range(4)] == [403, 403, 403, 429], "each its own"
    assert office.post("/v1/keys", {**examples.KEY, "requests_per_minute": 0}).status_code == 422


def test_what_is_revoked_in_one_process_is_refused_in_another(
    settings: Settings, live_engine: Engine, office: Office
) -> None:
    """Each application stands for a process: they share the database and nothing else."""
    made = office.post("/v1/keys", examples.KEY)
    elsewhere = Office(create_app(settings, live_engine).test_client(), made.json["key"])
    assert elsewhere.get("/v1/suppliers").status_code == 200
    office.delete(made.headers["Location"], If_Match="*")
    assert elsewhere.get("/v1/suppliers").status_code == 401


def test_an_origin_ends_where_its_pattern_does(office: Office) -> None:
    page = {"name": "Page", "scopes": ["ballpark"], "origins": ["https://www.example.com\n"]}
    assert office.post("/v1/keys", page).json["errors"][0]["pointer"] == "/origins/0"
