"""The published description: built from the operations, sorted, the same text every time."""

from __future__ import annotations

import json
from typing import Any

from flask import Flask

from service.api.framework.api import ProblemApi
from service.api.messages import MESSAGES, messages

TITLE = "Floor pricing service"
VERSION = "1"
INFO = {
    "description": (
        "Takes off and prices tile floors over uncoupling membranes.\n\n"
        "Lengths are millimetres or text with its unit; every figure of an answer has its unit in its name. "
        "Money and other exact decimals are strings. Errors are problem documents (RFC 9457) whose "
        "`errors` point into the body (RFC 6901). A licensed practice, the local code and the membrane "
        "maker's written instructions always stand above this service."
    )
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


def text_of(api: ProblemApi) -> str:
    """The description as JSON with sorted members."""
    document: dict[str, Any] = api.spec.to_dict()
    return json.dumps(document, indent=2, sort_keys=True, ensure_ascii=False) + "\n"
