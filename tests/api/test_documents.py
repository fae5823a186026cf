"""The document of a quote over HTTP: by Accept, in the language, on the paper and in the detail asked for."""

from __future__ import annotations

from io import BytesIO

import pytest
from pypdf import PdfReader

from service.api import examples
from tests.api.conftest import Office


@pytest.fixture
def document(demo: Office) -> str:
    made = demo.post("/v1/quotes", {**examples.QUOTE, "price_date": "2026-03-02"})
    assert made.status_code == 201, made.text
    return f"/v1/quotes/{made.json['id']}/document"


def test_html_is_the_answer_where_nothing_is_asked(demo: Office, document: str) -> None:
    page = demo.get(document)
    assert (page.status_code, page.mimetype) == (200, "text/html")
    assert page.headers["Content-Language"] == "en"
    assert "script" not in page.headers["Content-Security-Policy"]
    assert examples.QUOTE["customer"]["name"] in page.text


def test_pdf_is_the_answer_where_it_is_asked(demo: Office, document: str) -> None:
    answer = demo.get(f"{document}?locale=de&paper=letter&detail=by_line", Accept="application/pdf")
    assert (answer.status_code, answer.mimetype) == (200, "application/pdf")
    first = PdfReader(BytesIO(answer.data)).pages[0]
    assert (round(first.mediabox.width), round(first.mediabox.height)) == (612, 792), "Letter in points"


def test_nothing_else_is_answered(demo: Office, document: str) -> None:
    assert demo.get(document, Accept="application/json").status_code == 406
    for query in ("locale=it", "paper=a3", "detail=all", "revision=0", "revision=x"):
        assert demo.get(f"{document}?{query}").status_code == 422, query
    assert demo.get(f"{document}?revision=2").status_code == 404
    assert demo.get(f"/v1/quotes/{examples.SOME_ID}/document").status_code == 404


def test_neither_cost_nor_supplier_is_told(demo: Office, document: str) -> None:
    suppliers = [item["name"] for item in demo.get("/v1/suppliers").json["items"]]
    office = demo.get(document.removesuffix("/document")).json
    assert suppliers
    for detail in ("lump_sum", "by_room", "by_line"):
        page = demo.get(f"{document}?detail={detail}").text
        assert not [name for name in suppliers if name in page]
        assert not office["totals"] or office["totals"]["labour"] not in page
