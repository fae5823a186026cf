"""The form in a page of another origin, put there by one script tag."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager

import pytest
from axe_playwright_python.sync_playwright import Axe
from flask import Flask, Response
from playwright.sync_api import Page, expect

from service.api.pages.texts import texts
from tests.browser.conftest import serving

PAGE = """<!doctype html><html lang="de"><meta charset="utf-8"><title>Invented Floors</title>
<meta name="viewport" content="width=device-width">
<link rel="icon" href="data:,">
<link rel="stylesheet" href="/house.css">
<main><h1>Invented Floors</h1>
<script src="{service}/ballpark.js" data-key="{key}" data-locale="de" data-theme="light" defer></script>
<p>What follows</p></main>
<script src="/house.js"></script></html>"""
STYLE = "input, select, button { display: none !important } fieldset { color: red !important }"
SCRIPT = "window.told = []; addEventListener('ballpark', (event) => told.push(event.detail));"


def contractor(service: str, key: Callable[[], str]) -> Flask:
    """A contractor's site: a strict policy, and styles that would spoil any form of its own."""
    app = Flask("contractor")
    scripts = f"default-src 'none'; script-src 'self' {service}; connect-src {service}"
    policy = f"{scripts}; style-src 'self'; img-src data:"

    @app.get("/")
    def page() -> Response:
        shown = PAGE.format(service=service, key=key())
        return Response(shown, headers={"Content-Security-Policy": policy}, content_type="text/html")

    @app.get("/house.css")
    def style() -> Response:
        return Response(STYLE, content_type="text/css")

    @app.get("/house.js")
    def script() -> Response:
        return Response(SCRIPT, content_type="text/javascript")

    return app


@pytest.fixture
def site(address: str, new_public_key: Callable[..., str]) -> Iterator[str]:
    """A site whose address its key is bound to."""
    keys: list[str] = []
    with serving(contractor(address, lambda: keys[0])) as found:
        keys.append(new_public_key(found))
        yield found


def test_one_script_tag_puts_the_form_into_a_page(new_page: Callable[..., Page], site: str) -> None:
    page = new_page(390)
    page.goto(site)
    page.get_by_label("Fläche").fill("6,5")
    page.get_by_label("Welcher Raum ist es?").select_option("bathroom")
    with page.expect_response("**/v1/ballparks") as sent:
        page.get_by_role("button", name="Preisspanne zeigen").click()
    answer = sent.value.json()
    expect(page.get_by_label("Kennung für den Betrieb")).to_have_value(answer["token"])
    told = {name: answer[name] for name in ("low", "likely", "high", "currency", "token")}
    assert page.evaluate("told") == [told]
    assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
    assert page.get_by_role("heading", level=2).count() == 1
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()


def test_another_site_may_not_use_the_key(
    new_page: Callable[..., Page], address: str, new_public_key: Callable[..., str]
) -> None:
    key = new_public_key("https://elsewhere.example")
    with serving(contractor(address, lambda: key)) as site:
        page = new_page(refused=True)
        page.goto(site)
        page.get_by_label("Fläche").fill("6,5")
        page.get_by_role("button", name="Preisspanne zeigen").click()
        expect(page.get_by_role("alert")).not_to_be_empty()
        expect(page.locator(".answer")).to_be_hidden()


def test_a_page_elsewhere_reads_why_it_was_refused(
    new_page: Callable[..., Page],
    new_service: Callable[..., AbstractContextManager[str]],
    new_public_key: Callable[[str], str],
) -> None:
    """401 and 429 over origins: without their CORS headers a script sees a failed connection (problem 0)."""
    told, keys = texts("de")["script"]["problems"], ["no-such-key"]
    with (
        new_service(BALLPARKS_PER_KEY="1") as address,
        serving(contractor(address, lambda: keys[-1])) as site,
    ):
        keys.insert(0, new_public_key(site))
        page = new_page()
        _ask(page, site)
        expect(page.get_by_role("alert")).to_have_text(told["401"])
        keys.pop()
        _ask(page, site)
        expect(page.get_by_label("Kennung für den Betrieb")).not_to_be_empty()
        page.get_by_role("button", name="Preisspanne zeigen").click()
        expect(page.get_by_role("alert")).to_have_text(told["429"])


def _ask(page: Page, site: str) -> None:
    page.goto(site)
    page.get_by_label("Fläche").fill("6,5")
    page.get_by_role("button", name="Preisspanne zeigen").click()
