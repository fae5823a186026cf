"""API keys over HTTP: shown once, scoped, revoked, each organisation's own."""

from __future__ import annotations

from collections.abc import Callable

from sqlalchemy import create_engine, text

from service.api import examples
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
