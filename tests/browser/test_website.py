"""The example of a website: one page with the script tag, filled in as a home owner does."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from flask import Flask
from playwright.sync_api import Page, expect

from tests.browser.conftest import serving

PAGE = Path(__file__).parents[2] / "openapi" / "examples" / "website.html"


def test_the_page_tells_its_answer(
    new_page: Callable[..., Page], address: str, new_public_key: Callable[[str], str]
) -> None:
    site = Flask("website")
    shown: list[str] = []
    site.add_url_rule("/", "page", lambda: shown[0])
    with serving(site) as found:
        text = PAGE.read_text("utf-8")
        assert "https://HOST" in text
        shown.append(text.replace("https://HOST", address).replace("pub_...", new_public_key(found)))
        page = new_page(390)
        page.goto(found)
        page.get_by_label("Area").fill("6.5")
        with page.expect_response("**/v1/ballparks") as sent:
            page.get_by_role("button", name="Show the range").click()
        likely = sent.value.json()["likely"]
        expect(page.get_by_role("status").filter(has_text="About")).to_have_text(f"About {likely} USD.")
