"""The real application on a real port, in the system's Chromium."""

from __future__ import annotations

import os
import shutil
import threading
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from typing import Any

import pytest
from flask import Flask
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright
from sqlalchemy import Engine
from werkzeug.serving import WSGIRequestHandler, make_server

from service import create_app
from service.demo.seed import ORGANISATION, seed
from service.quoting.keys import make_key
from service.settings import load_settings
from service.store.engine import make_engine
from service.store.session import transaction
from tests.conftest import PEPPER

KEY = "demo-key-for-browsers"
NAMES = ("chromium", "chromium-browser", "google-chrome")
PATIENCE_MS = 15_000
expect.set_options(timeout=PATIENCE_MS)


class Quiet(WSGIRequestHandler):
    """Says nothing of each request."""

    def log(self, type: str, message: str, *args: object) -> None:  # noqa: A002 # as overridden
        pass


@contextmanager
def serving(app: Flask) -> Iterator[str]:
    """The address of `app` on a free port of its own, for as long as the block runs."""
    server = make_server("127.0.0.1", 0, app, threaded=True, request_handler=Quiet)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.port}"
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


# Of the package and no wider: Playwright's event loop runs in this thread until the fixture ends.
@pytest.fixture(scope="package")
def browser() -> Iterator[Browser]:
    """The system's Chromium; without one the tests are skipped, or fail where BROWSER_TESTS=required."""
    found = os.environ.get("CHROMIUM") or next(filter(None, map(shutil.which, NAMES)), None)
    if found is None:
        if os.environ.get("BROWSER_TESTS") == "required":
            pytest.fail("no Chromium on this machine, and BROWSER_TESTS=required")
        pytest.skip("no Chromium on this machine: apt-get install chromium, or set CHROMIUM to its path")
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=found)
        yield started
        started.close()


@pytest.fixture(scope="package")
def browser_engine(make_database: Callable[[str], str]) -> Iterator[tuple[str, Engine]]:
    """A database of the browser tests' own with the invented office in it: its address and an engine."""
    url = make_database(f"{os.environ.get('PYTEST_XDIST_WORKER', 'main')}_browser")
    seed(load_settings({"DATABASE_URL": url, "KEY_PEPPER": PEPPER}), KEY)
    engine = make_engine(url)
    yield url, engine
    engine.dispose()


@pytest.fixture(scope="package")
def new_service(
    browser_engine: tuple[str, Engine],
) -> Callable[..., AbstractContextManager[str]]:
    """Serves the invented office under these settings; gives the address."""
    url, engine = browser_engine

    def make(**given: str) -> AbstractContextManager[str]:
        settings = load_settings({"DATABASE_URL": url, "KEY_PEPPER": PEPPER, **given})
        return serving(create_app(settings, engine))

    return make


@pytest.fixture(scope="package")
def address(new_service: Callable[..., AbstractContextManager[str]]) -> Iterator[str]:
    """Where the service answers."""
    with new_service(BALLPARKS_PER_ADDRESS="1000", BALLPARKS_PER_KEY="1000") as found:
        yield found


@pytest.fixture(scope="package")
def new_public_key(browser_engine: tuple[str, Engine]) -> Callable[[str], str]:
    """Makes a publishable key of the invented office for the pages of one origin."""

    def make(origin: str) -> str:
        with transaction(browser_engine[1], ORGANISATION) as session:
            return make_key(session, PEPPER, "Web page", ["ballpark"], origins=[origin])[1]

    return make


@pytest.fixture(scope="package")
def public_key(new_public_key: Callable[[str], str]) -> str:
    """A key that the service's own page may use, as any publishable key."""
    return new_public_key("https://floors.example")


@pytest.fixture
def new_page(browser: Browser) -> Iterator[Callable[..., Page]]:
    """Opens a page in a context of its own; a fault in a script or a refusal by policy fails the test
    (unless a refusal is what is tested)."""
    contexts: list[BrowserContext] = []
    faults: list[str] = []

    def make(width: int = 1280, refused: bool = False, **options: Any) -> Page:
        context = browser.new_context(viewport={"width": width, "height": 800}, **options)
        context.set_default_timeout(PATIENCE_MS)
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda fault: faults.append(str(fault)))
        if not refused:
            page.on("console", lambda said: _note(said.text, faults))
        return page

    yield make
    for context in contexts:
        context.close()
    assert faults == []


def _note(said: str, faults: list[str]) -> None:
    if "Content Security Policy" in said or "CORS" in said:
        faults.append(said)
