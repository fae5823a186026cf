"""The form's words in four languages: one catalogue a language, all with the same keys."""

from __future__ import annotations

import re
import tomllib
from functools import cache
from importlib import resources
from typing import Any

from flask import request

LANGUAGES = {"en": "English", "de": "Deutsch", "fr": "Français", "es": "Español"}
"""The languages by their own names; the first holds where none is asked for."""
FEET_IN = {"US"}
"""Territories whose home owners measure rooms in feet."""
_TAG = re.compile(r"[A-Za-z]{2,3}(-[A-Za-z0-9]{2,8}){0,3}")


@cache
def texts(language: str) -> dict[str, Any]:
    """The catalogue of one of `LANGUAGES`."""
    file = resources.files("service.api.pages") / "texts" / f"{language}.toml"
    return tomllib.loads(file.read_text("utf-8"))


def locale_asked() -> str:
    """The language tag that the request names, else the best of those the browser takes."""
    named = request.args.get("locale", "")
    if _TAG.fullmatch(named) and language_of(named) == named.split("-")[0].lower():
        return named
    for tag in request.accept_languages.values():
        if _TAG.fullmatch(tag) and tag.split("-")[0].lower() in LANGUAGES:
            return tag
    return "en"


def language_of(locale: str) -> str:
    """The language whose catalogue serves this tag."""
    language = locale.split("-")[0].lower()
    return language if language in LANGUAGES else "en"


def measures_in_feet(locale: str) -> bool:
    return any(part.upper() in FEET_IN for part in locale.split("-")[1:])
