"""API keys over HTTP: shown once, scoped, revoked, each organisation's own."""

from __future__ import annotations

from collections.abc import Callable

from sqlalchemy import Engine, text

from service.api import examples
from tests.api.conftest import Office


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

    assert office.delete(made.headers["Location"]).status_code == 204
    assert fresh.get("/v1/suppliers").status_code == 401
    assert office.delete(made.headers["Location"]).status_code == 204, "revoking again changes nothing"


def test_only_a_hash_is_stored(office: Office, database_url: str) -> None:
    from sqlalchemy import create_engine

    from service.store.engine import sqlalchemy_url

    key = office.post("/v1/keys", examples.KEY).json["key"]
    owner: Engine = create_engine(sqlalchemy_url(database_url))
    with owner.connect() as connection:
        stored = str(connection.execute(text("SELECT * FROM api_keys")).all())
    owner.dispose()
    assert key not in stored
    assert "test" in stored


def test_an_expired_key_is_no_key(office: Office) -> None:
    body = {**examples.KEY, "expires_at": "2020-01-01T00:00:00Z"}
    key = office.post("/v1/keys", body).json["key"]
    assert Office(office.client, key).get("/v1/suppliers").status_code == 401


def test_a_key_of_another_organisation_cannot_be_seen_or_revoked(new_office: Callable[..., Office]) -> None:
    ours, theirs = new_office(), new_office()
    made = theirs.post("/v1/keys", examples.KEY)
    assert ours.delete(made.headers["Location"]).status_code == 404
    assert len(ours.get("/v1/keys").json["items"]) == 1
    assert Office(ours.client, made.json["key"]).get("/v1/suppliers").status_code == 200


def test_scopes_are_a_closed_list(office: Office) -> None:
    answer = office.post("/v1/keys", {"name": "x", "scopes": ["quotes", "everything"]})
    assert answer.status_code == 422
    assert answer.json["errors"][0]["pointer"] == "/scopes/1"
