"""The real application on a real database, called as an office's program would call it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import Engine
from werkzeug.test import TestResponse

from service.api.app import bare_app, equip
from service.api.framework.api import ProblemApi
from service.demo.run import demo_job
from service.settings import Settings, load_settings
from service.store import keys
from service.store.ids import new_id
from service.store.session import open_session
from tests.api import conformance
from tests.conftest import PEPPER, make_org


@pytest.fixture(scope="session")
def settings(database_url: str) -> Settings:
    return load_settings({"DATABASE_URL": database_url, "KEY_PEPPER": PEPPER, "MAX_BODY_BYTES": "2000000"})


@pytest.fixture(scope="session")
def operations() -> tuple[Flask, ProblemApi]:
    """All operations, described once a process: it takes longer than most tests."""
    return bare_app()


@pytest.fixture
def app(operations: tuple[Flask, ProblemApi], settings: Settings, live_engine: Engine) -> Flask:
    return equip(*operations, settings, live_engine)


class Office:
    """One organisation's program: a key, and calls with it, each answer compared with the description."""

    def __init__(self, client: FlaskClient, key: str) -> None:
        self.client = client
        self.key = key

    def call(self, method: str, path: str, body: Any = None, **headers: str) -> TestResponse:
        sent = {"Authorization": f"Bearer {self.key}"}
        sent |= {name.replace("_", "-"): value for name, value in headers.items()}
        answer = self.client.open(path, method=method, json=body, headers=sent)
        conformance.check(method, path, answer)
        return answer

    def get(self, path: str, **headers: str) -> TestResponse:
        return self.call("GET", path, **headers)

    def post(self, path: str, body: Any = None, **headers: str) -> TestResponse:
        return self.call("POST", path, body, **headers)

    def put(self, path: str, body: Any = None, **headers: str) -> TestResponse:
        return self.call("PUT", path, body, **headers)

    def delete(self, path: str, **headers: str) -> TestResponse:
        return self.call("DELETE", path, **headers)


@pytest.fixture
def new_office(app: Flask, live_engine: Engine) -> Callable[..., Office]:
    """Makes an organisation with a key of some scopes."""

    def make(*scopes: str) -> Office:
        org_id, key = new_id(), f"key-of-{new_id()}"
        with open_session(live_engine, org_id) as session:
            session.add(make_org(org_id))
            session.flush()
            keys.add_key(session, key, PEPPER, "test", scopes or ("admin",))
            session.commit()
        return Office(app.test_client(), key)

    return make


@pytest.fixture
def office(new_office: Callable[..., Office]) -> Office:
    return new_office()


@pytest.fixture
def client(app: Flask) -> Iterator[FlaskClient]:
    """A client without a key."""
    with app.test_client() as client:
        yield client


@pytest.fixture
def demo(app: Flask, invented_office: str) -> Office:
    """The invented organisation's program."""
    return Office(app.test_client(), invented_office)


@pytest.fixture
def demo_tiles(demo: Office) -> dict[str, str]:
    """Ids of the demo's tiles by their codes."""
    return {item["code"]: item["id"] for item in demo.get("/v1/products?role=tile").json["items"]}


@pytest.fixture
def job(demo_tiles: dict[str, str]) -> dict[str, Any]:
    """The demo's job, of its three rooms."""
    return demo_job(demo_tiles)
