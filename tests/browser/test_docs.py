"""The page at /docs as a reader opens it."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import KEY

OPENAPI = json.loads((Path(__file__).parents[2] / "openapi" / "openapi.json").read_text("utf-8"))
METHODS = {"get", "post", "put", "patch", "delete"}
OPERATIONS = sorted(
    f"{method.upper()} {path}"
    for part in ("paths", "webhooks")
    for path, methods in OPENAPI.get(part, {}).items()
    for method in methods
    if method in METHODS
)
SHOWN = """() => [...document.querySelectorAll(".opblock")].map((block) =>
    block.querySelector(".opblock-summary-method").textContent + " "
    + block.querySelector("[data-path]").dataset.path)"""


@pytest.fixture
def docs(new_page: Callable[..., Page], address: str) -> Page:
    page = new_page()
    page.goto(f"{address}/docs")
    expect(page.locator(".opblock")).to_have_count(len(OPERATIONS))
    return page


def test_every_operation_is_listed(docs: Page) -> None:
    assert sorted(docs.evaluate(SHOWN)) == OPERATIONS
    expect(docs.locator(".errors-wrapper")).to_have_count(0)


@pytest.mark.full
def test_every_operation_opens(docs: Page) -> None:
    for block in docs.locator(".opblock").all():
        block.locator(".opblock-summary-control").click()
        expect(block.locator(".responses-wrapper")).to_be_visible()
        expect(docs.get_by_text("Could not render")).to_have_count(0)
        block.locator(".opblock-summary-control").click()
        expect(block.locator(".responses-wrapper")).to_have_count(0)


def test_an_example_runs(docs: Page) -> None:
    docs.get_by_role("button", name="Authorize").first.click()
    dialog = docs.locator(".dialog-ux")
    dialog.locator("input").fill(KEY)
    dialog.get_by_role("button", name="Apply credentials").click()
    dialog.get_by_role("button", name="Close").first.click()
    block = docs.locator(".opblock", has=docs.locator('[data-path="/v1/takeoffs"]'))
    block.locator(".opblock-summary-control").click()
    block.get_by_role("button", name="Try it out").click()
    with docs.expect_response(re.compile("/v1/takeoffs")) as sent:
        block.get_by_role("button", name="Execute").click()
    assert sent.value.status == 200
    assert sent.value.request.post_data_json["rooms"]
    expect(block.locator(".live-responses-table tbody .response-col_status").first).to_contain_text("200")
