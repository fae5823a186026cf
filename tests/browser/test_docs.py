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

OPENED = """async () => {
    const until = async (met) => {
        for (let waited = 0; !met() && waited < 15000; waited += 20)
            await new Promise((again) => setTimeout(again, 20));
    };
    const opened = [];
    for (const block of document.querySelectorAll(".opblock")) {
        const name = block.querySelector(".opblock-summary-method").textContent + " "
            + block.querySelector("[data-path]").dataset.path;
        const control = block.querySelector(".opblock-summary-control");
        control.click();
        await until(() => block.querySelector(".responses-wrapper .response"));
        const shown = block.querySelector(".responses-wrapper");
        opened.push([name, Boolean(shown && shown.offsetHeight && shown.querySelector(".response")),
            (block.textContent.match(/could not render[^\\n]*/gi) || [])]);
        control.click();
        await until(() => !block.querySelector(".responses-wrapper"));
    }
    return opened;
}"""
"""Of each operation: its name, whether its answers are to be seen, and what could not be rendered."""


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
    """By a script in the page: a driver that waits for each click to be steady takes minutes."""
    opened = docs.evaluate(OPENED)
    assert sorted(name for name, _, _ in opened) == OPERATIONS
    assert [name for name, responses, _ in opened if not responses] == []
    assert [(name, faults) for name, _, faults in opened if faults] == []


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
