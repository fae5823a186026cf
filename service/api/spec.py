"""The published description: built from the operations, sorted, the same text every time."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from typing import Any

from flask import Flask

from service.api.framework.api import ProblemApi
from service.api.messages import MESSAGES, messages

TITLE = "Floor pricing service"
VERSION = "0.2.0"
"""The package's. Raise the first number that is not 0 for what breaks callers (tests/published)."""
INFO = {
    "contact": {"name": "The maintainers"},
    "license": {"name": "MIT", "identifier": "MIT"},
    "description": (
        "Takes off and prices tile floors over uncoupling membranes.\n\n"
        "Lengths are millimetres or text with its unit; every figure of an answer has its unit in its name. "
        "Money and other exact decimals are strings. Errors are problem documents (RFC 9457) whose "
        "`errors` point into the body (RFC 6901). A licensed practice, the local code and the membrane "
        "maker's written instructions always stand above this service."
    ),
}


def describe(app: Flask) -> ProblemApi:
    """The Api of `app`, which gathers its operations' descriptions."""
    app.config.update(
        API_TITLE=TITLE,
        API_VERSION=VERSION,
        OPENAPI_VERSION="3.1.0",
        API_SPEC_OPTIONS={"info": INFO, "servers": [{"url": "/"}], "webhooks": messages()},
    )
    api = ProblemApi(app)
    for name, schema in MESSAGES.items():
        api.spec.components.schema(name, schema=schema)
    return api


def _link(paths: dict[str, Any]) -> None:
    """What was made leads to every operation on it, by the id in the answer (OpenAPI 3.1, Link Object)."""
    for path, item in paths.items():
        made = item.get("post", {}).get("responses", {}).get("201")
        named = {name: _link_to(*found) for name, found in _operations_on(paths, path)}
        if made is not None and named:
            made["links"] = named


def _operations_on(paths: dict[str, Any], path: str) -> Iterator[tuple[str, tuple[str, str]]]:
    """Operations whose one parameter in the path is the id of what a POST to `path` makes."""
    for of_one, item in paths.items():
        if found := re.fullmatch(re.escape(path) + r"/\{(\w+)\}(/[\w-]+)?", of_one):
            for method in item.keys() - {"parameters"}:
                name = item[method]["operationId"]
                yield name, (name, found[1])


def _link_to(operation: str, parameter: str) -> dict[str, Any]:
    return {"operationId": operation, "parameters": {parameter: "$response.body#/id"}}


def text_of(api: ProblemApi) -> str:
    """The description as JSON with sorted members."""
    document: dict[str, Any] = api.spec.to_dict()
    _link(document["paths"])
    return json.dumps(document, indent=2, sort_keys=True, ensure_ascii=False) + "\n"
