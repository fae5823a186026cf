"""The ballpark form as a home owner uses it, against the real service."""

from __future__ import annotations

import re
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from babel.numbers import format_currency
from playwright.sync_api import Locator, Page, expect

from service.api.pages.texts import LANGUAGES, texts

PHONE, DESKTOP = 320, 1280
WCAG_TARGET_PX = 24  # WCAG 2.2, success criterion 2.5.8
MOVING = """[...document.querySelectorAll("*")].map((one) => getComputedStyle(one))
    .filter((style) => style.transitionDuration !== "0s" || style.animationName !== "none").length"""
REACHED = """(({name, value, type, tagName}) => name || (type === "submit" ? value : tagName))
    (document.activeElement)"""
Answer = dict[str, Any]


def open_form(page: Page, address: str, key: str, locale: str = "en-GB") -> None:
    page.goto(f"{address}/ballpark?key={key}&locale={locale}")


def ask(page: Page, button: str = "show") -> Answer:
    """Press the button and wait until the answer stands in the page."""
    with page.expect_response("**/v1/ballparks") as sent:
        page.locator(f"button[value={button}]").click()
    answer: Answer = sent.value.json()
    expect(page.locator("#ballpark-token")).to_have_value(answer["token"])
    return answer


def first_answer(page: Page) -> Answer:
    page.locator("[name=area_m2]").fill("12.5")
    page.locator("[name=room_kind]").select_option("kitchen")
    return ask(page)


def figure(page: Page, name: str) -> Locator:
    return page.locator(f"[data-figure={name}]")


def plain(text: str) -> str:
    """With every kind of blank as one kind."""
    return re.sub(r"\s", " ", text)


def assert_accessible(page: Page) -> None:
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()


def assert_fits(page: Page) -> None:
    """Nothing to scroll sideways (WCAG 2.2, success criterion 1.4.10)."""
    assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")


@pytest.mark.parametrize("language", LANGUAGES)
def test_axe_finds_nothing(
    new_page: Callable[..., Page], address: str, public_key: str, language: str
) -> None:
    page = new_page(DESKTOP)
    open_form(page, address, public_key, language)
    assert page.locator("html").get_attribute("lang") == language
    page.locator("summary").click()
    page.locator("button[value=show]").click()  # with nothing filled in: a fault beside its field
    expect(page.locator("#ballpark-area_m2-wrong")).to_have_text(
        texts(language)["script"]["faults"]["area_m2"]
    )
    assert_accessible(page)
    first_answer(page)
    for width in (DESKTOP, PHONE):
        page.set_viewport_size({"width": width, "height": 800})
        assert_fits(page)
        for scheme in ("light", "dark"):
            page.emulate_media(color_scheme=scheme)
            assert_accessible(page)


def test_the_range_is_told_in_figures_and_as_a_picture(
    new_page: Callable[..., Page], address: str, public_key: str
) -> None:
    page = new_page()
    open_form(page, address, public_key, "de-DE")
    answer = first_answer(page)
    said = {name: plain(figure(page, name).inner_text()) for name in ("low", "likely", "high")}
    for name, text in said.items():
        # Unicode CLDR by another library
        assert text == plain(
            format_currency(
                Decimal(answer[name]), answer["currency"], "#,##0 ¤", locale="de_DE", currency_digits=False
            )
        )
    picture = page.get_by_role("img")
    label = plain(picture.get_attribute("aria-label") or "")
    status = plain(page.get_by_role("status").inner_text())
    assert all(text in label and text in status for text in said.values())
    bar, peak = (page.locator(f".picture .{part}").bounding_box() for part in ("range", "peak"))
    assert bar is not None
    assert peak is not None
    low, likely, high = (float(answer[name]) for name in ("low", "likely", "high"))
    share = (peak["x"] + peak["width"] / 2 - bar["x"]) / bar["width"]
    assert share == pytest.approx((likely - low) / (high - low), abs=0.02)


def test_the_question_that_narrows_most_comes_next(
    new_page: Callable[..., Page], address: str, public_key: str
) -> None:
    page = new_page()
    open_form(page, address, public_key)
    answer = first_answer(page)
    asked: list[str] = []
    while answer["ask_next"] and len(asked) < 3:
        asked.append(answer["ask_next"])
        slot = page.locator(f".slot > [data-question={asked[-1]}]")
        expect(slot).to_be_visible()
        expect(page.locator(f"[data-question={asked[-1]}]")).to_have_count(1)
        _answer(slot, asked[-1])
        answer = ask(page, "narrow")
        expect(page.locator(".picture .before")).to_have_count(1)
    assert len(set(asked)) == 3
    assert page.evaluate("document.querySelector('.slot').contains(document.activeElement)")


def _answer(slot: Locator, name: str) -> None:
    if name == "lengths":
        slot.locator("[name=length]").fill("4.2")
        slot.locator("[name=width]").fill("3")
    elif slot.locator("select").count():
        slot.locator("select").select_option(index=1)
    else:
        slot.locator("input[type=radio]").nth(1).check()


def test_the_keyboard_alone_is_enough(new_page: Callable[..., Page], address: str, public_key: str) -> None:
    page = new_page()
    open_form(page, address, public_key)
    reached: list[str] = []
    while reached[-1:] != ["show"]:
        page.keyboard.press("Tab")
        now = page.evaluate(REACHED)
        outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
        assert outline != "none"
        reached.append(now)
        if now == "length":
            page.keyboard.type("4.2")
        if now == "width":
            page.keyboard.type("3")
        if now == "room_kind":
            page.keyboard.type("Kit")
        if now == "exposure":
            page.keyboard.press("ArrowDown")
        assert len(reached) < 30
    with page.expect_response("**/v1/ballparks") as sent:
        page.keyboard.press("Enter")
    wanted = {"length": "4.2 m", "width": "3 m", "room_kind": "kitchen", "exposure": "dry"}
    assert sent.value.request.post_data_json == wanted
    assert sent.value.ok
    languages = ["A"] * len(LANGUAGES)
    size = ["unit", "area_m2", "length", "width"]
    assert reached == [*languages, *size, "room_kind", "exposure", "SUMMARY", "show"]


def test_a_fault_stands_beside_its_field(
    new_page: Callable[..., Page], address: str, public_key: str
) -> None:
    page = new_page(390)
    open_form(page, address, public_key, "fr")
    page.locator("[name=length]").fill("0,1")
    page.locator("[name=width]").fill("3")
    with page.expect_response("**/v1/ballparks") as sent:
        page.locator("button[value=show]").click()
    assert [fault["pointer"] for fault in sent.value.json()["errors"]] == ["/length"]
    wrong = page.get_by_label("Longueur")
    expect(wrong).to_be_focused()
    expect(wrong).to_have_attribute("aria-invalid", "true")
    expect(wrong).to_have_accessible_description(texts("fr")["script"]["faults"]["length"])
    wrong.fill("4,2")
    ask(page)
    expect(page.locator("[aria-invalid]")).to_have_count(0)


def test_feet_are_metres_to_the_service(new_page: Callable[..., Page], address: str, public_key: str) -> None:
    page = new_page()
    open_form(page, address, public_key, "en-US")
    page.get_by_label("Area (ft²)").fill("100")
    with page.expect_response("**/v1/ballparks") as sent:
        page.locator("button[value=show]").click()
    # The foot is 0.3048 m: NIST SP 811, B.8.
    assert sent.value.request.post_data_json == {"area_m2": pytest.approx(100 * 0.3048**2, abs=0.0005)}
    page.get_by_label("Area (ft²)").fill("")
    page.get_by_label("Length").fill("11 ft 9 in")
    page.get_by_label("Width").fill("8")
    with page.expect_response("**/v1/ballparks") as sent:
        page.locator("button[value=show]").click()
    assert sent.value.request.post_data_json == {"length": "11 ft 9 in", "width": "8 ft"}
    assert sent.value.ok


def test_people_never_meet_the_trap(new_page: Callable[..., Page], address: str, public_key: str) -> None:
    page = new_page()
    open_form(page, address, public_key)
    assert "website" not in page.locator("body").aria_snapshot()
    box = page.locator(".trap").bounding_box()
    assert box is not None
    assert max(box["width"], box["height"]) <= 1
    page.evaluate("document.querySelector('[name=website]').value = 'https://spam.example'")
    page.locator("[name=area_m2]").fill("10")
    with page.expect_response("**/v1/ballparks") as sent:
        page.locator("button[value=show]").click()
    assert sent.value.request.post_data_json["website"] == "https://spam.example"


def test_nothing_is_kept_and_nothing_is_loaded_from_elsewhere(
    new_page: Callable[..., Page], address: str, public_key: str
) -> None:
    page = new_page()
    hosts: set[str] = set()
    page.on("request", lambda request: hosts.add("/".join(request.url.split("/")[:3])))
    open_form(page, address, public_key)
    first_answer(page)
    assert page.context.cookies() == []
    assert page.evaluate("localStorage.length + sessionStorage.length") == 0
    assert hosts == {address}
    policy = page.request.get(f"{address}/ballpark").headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy


def test_large_text_fits_and_nothing_moves(
    new_page: Callable[..., Page], address: str, public_key: str
) -> None:
    page = new_page(DESKTOP // 2)  # a desktop at 200 %
    open_form(page, address, public_key, "de")
    first_answer(page)
    assert_fits(page)
    assert page.evaluate(MOVING) == 0
    page.set_viewport_size({"width": PHONE, "height": 800})
    for control in page.locator("button, select, .choice, summary").all():
        box = control.bounding_box()
        assert box is None or min(box["width"], box["height"]) >= WCAG_TARGET_PX


def test_a_service_out_of_reach_is_told(new_page: Callable[..., Page], address: str, public_key: str) -> None:
    page = new_page()
    open_form(page, address, public_key, "es")
    page.route("**/v1/ballparks", lambda route: route.abort())
    page.locator("[name=area_m2]").fill("10")
    page.locator("button[value=show]").click()
    expect(page.get_by_role("alert")).to_have_text(texts("es")["script"]["problems"]["0"])
    page.unroute("**/v1/ballparks")
    ask(page)
    expect(page.locator("[role=alert]")).to_be_empty()


def test_too_many_questions_are_told(
    new_page: Callable[..., Page], new_service: Callable[..., Any], public_key: str
) -> None:
    with new_service(BALLPARKS_PER_KEY="1") as address:
        page = new_page()
        open_form(page, address, public_key, "de")
        first_answer(page)
        page.locator("button[value=show]").click()
        expect(page.get_by_role("alert")).to_have_text(texts("de")["script"]["problems"]["429"])


def test_a_page_without_a_key_says_so(new_page: Callable[..., Page], address: str) -> None:
    page = new_page()
    open_form(page, address, "no-such-key")
    page.locator("[name=area_m2]").fill("10")
    page.locator("button[value=show]").click()
    expect(page.get_by_role("alert")).to_have_text(texts("en")["script"]["problems"]["401"])
