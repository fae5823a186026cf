"""/ballpark: the form as a page, and its parts for other sites.

Other sites get it in a shadow root, not in a frame: then the request carries the site's own Origin, to which
the publishable key is bound; keyboard focus, zoom and height are the page's own; and the page's style does
not reach the form nor the form's the page. It costs the site two allowances where it has a
Content-Security-Policy: script-src and connect-src of this host.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from flask import Blueprint, Response, render_template, request, send_from_directory

from service.api.pages.questions import FIRST, FURTHER, TRAP, questions
from service.api.pages.texts import LANGUAGES, language_of, locale_asked, measures_in_feet, texts

STATIC = Path(__file__).parent / "static"
THEMES = ("auto", "light", "dark")
MAX_AGE_S = 300
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src data:; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
FOR_OTHER_SITES = {
    "Access-Control-Allow-Origin": "*",
    "Cross-Origin-Resource-Policy": "cross-origin",
    "Cache-Control": f"public, max-age={MAX_AGE_S}",
}

pages = Blueprint("ballpark_form", __name__, template_folder="templates")


@pages.get("/ballpark")
def page() -> Response:
    """The form on a page of its own; `?key=` is the publishable key, `?locale=` a language tag."""
    locale = locale_asked()
    shown = render_template(
        "page.html", key=request.args.get("key", ""), locale=locale, languages=LANGUAGES, **_form(locale, 1)
    )
    return _html(shown, {"Content-Security-Policy": POLICY})


@pages.get("/ballpark/form")
def fragment() -> Response:
    """The form alone, which the script puts into other sites' pages."""
    return _html(render_template("form.html", **_form(locale_asked(), 2)), FOR_OTHER_SITES)


@pages.get("/ballpark.<any(js, css):kind>")
def static_file(kind: str) -> Response:
    """The script of the one tag, and the form's style."""
    answer = send_from_directory(STATIC, f"ballpark.{kind}", max_age=MAX_AGE_S)
    answer.headers.update(FOR_OTHER_SITES)
    return answer


def _form(locale: str, level: int) -> dict[str, Any]:
    """What the form's template wants; `level` is that of its heading."""
    theme = request.args.get("theme")
    return {
        "language": language_of(locale),
        "texts": texts(language_of(locale)),
        "feet": measures_in_feet(locale),
        "theme": theme if theme in THEMES else "auto",
        "level": level,
        "first": questions(FIRST),
        "further": questions(FURTHER),
        "trap": TRAP,
    }


def _html(text: str, headers: dict[str, str]) -> Response:
    answer = Response(text, headers=headers, content_type="text/html; charset=utf-8")
    answer.vary.add("Accept-Language")
    return answer
