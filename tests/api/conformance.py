"""Whether an answer is one that the published description announces: status, media type, body."""

from __future__ import annotations

import json
import re
from functools import cache
from typing import Any

from jsonschema_rs import Draft202012Validator
from werkzeug.test import TestResponse

from service.api.app import spec_json


@cache
def spec() -> dict[str, Any]:
    document: dict[str, Any] = json.loads(spec_json())
    return document


@cache
def _paths() -> list[tuple[re.Pattern[str], str]]:
    return [(re.compile(re.sub(r"\{[^}]+\}", "[^/]+", path)), path) for path in spec()["paths"]]


def operation_at(method: str, path: str) -> dict[str, Any] | None:
    """The described operation that answers this request, if any."""
    bare = path.partition("?")[0]
    known = next((template for pattern, template in _paths() if pattern.fullmatch(bare)), None)
    return spec()["paths"][known].get(method.lower()) if known else None


@cache
def _validator(schema: str) -> Draft202012Validator:
    whole = {**json.loads(schema), "components": spec()["components"]}
    return Draft202012Validator(whole, validate_formats=True)


def check(method: str, path: str, answer: TestResponse) -> None:
    """Assert that the answer is announced; 500 is no part of any bargain and is left to the tests."""
    operation = operation_at(method, path)
    if operation is None or answer.status_code >= 500 or answer.status_code == 304:
        return
    announced = operation["responses"].get(str(answer.status_code))
    assert announced is not None, (
        f"{method} {path}: {answer.status_code} is not announced: {answer.text[:300]}"
    )
    if "$ref" in announced:
        announced = spec()["components"]["responses"][announced["$ref"].rpartition("/")[2]]
    if answer.status_code == 204 or "Preference-Applied" in answer.headers:
        assert answer.data == b""
        return
    schema = announced["content"].get(answer.mimetype)
    assert schema is not None, f"{method} {path}: {answer.mimetype} is not announced"
    if answer.mimetype.endswith("json"):
        errors = _validator(json.dumps(schema["schema"])).iter_errors(answer.json)
        unfit = [f"{error.instance_path}: {error.message[:200]}" for error in errors]
        assert not unfit, f"{method} {path}: {unfit}"
