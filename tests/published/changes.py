"""What of a description's changes breaks those who call by the one before.

What a caller sends may be taken more widely and never more narrowly; what it is answered may tell more and
never less or otherwise. A closed list of words in an answer that grows breaks clients generated from it.
(OpenAPI 3.1, https://spec.openapis.org/oas/v3.1.1)
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tests.published.schemas import Json, Schemas, resolved

METHODS = ("get", "put", "post", "delete", "patch", "head", "options", "trace")
Key = tuple[str, str]


def breaking(old: Json, new: Json) -> list[str]:
    """A sentence for each change that breaks."""
    found = _Compared(old, new)
    return sorted({*found.operations(), *found.messages()})


def says_so(old: str, new: str) -> bool:
    """Whether the version tells that callers are broken: its first number that is not 0 is raised
    (https://semver.org, where 0.y.z promises nothing: here y is raised)."""
    before, after = (tuple(map(int, version.split("."))) for version in (old, new))
    told = next((place for place, number in enumerate(before) if number), len(before) - 1) + 1
    return after[:told] > before[:told]


class _Compared:
    """Two descriptions side by side."""

    def __init__(self, old: Json, new: Json) -> None:
        self._old, self._new = old, new
        self._schemas = Schemas(old, new)

    def operations(self) -> Iterator[str]:
        for path, item in self._old["paths"].items():
            now = self._new["paths"].get(path, {})
            for method in METHODS:
                where = f"{method.upper()} {path}"
                if method in item and method not in now:
                    yield f"{where}: gone"
                elif method in item:
                    yield from self._operation(
                        where,
                        _with_parameters(item, method, self._old),
                        _with_parameters(now, method, self._new),
                    )

    def messages(self) -> Iterator[str]:
        """What is sent to callers is read by them as an answer is."""
        after = self._new.get("webhooks", {})
        for name, item in self._old.get("webhooks", {}).items():
            if name not in after:
                yield f"message {name}: no longer sent"
            else:
                bodies = (_media(each["post"].get("requestBody", {})) for each in (item, after[name]))
                yield from self._bodies(f"message {name}", *bodies, answers=True)

    def _operation(self, where: str, was: Json, now: Json) -> Iterator[str]:
        if was.get("operationId") != now.get("operationId"):
            yield f"{where}: another operationId, by which clients call it"
        if now.get("security") and not was.get("security"):
            yield f"{where}: now asks for a key"
        yield from self._parameters(where, was["parameters"], now["parameters"])
        before, after = was.get("requestBody", {}), now.get("requestBody", {})
        if after.get("required") and not before.get("required"):
            yield f"{where}: a body is now required"
        yield from self._bodies(f"{where}: body", _media(before), _media(after), answers=False)
        yield from self._answers(where, was["responses"], now["responses"])

    def _parameters(self, where: str, was: Mapping[Key, Json], now: Mapping[Key, Json]) -> Iterator[str]:
        for key, parameter in now.items():
            if parameter.get("required") and not was.get(key, {}).get("required"):
                yield f"{where}: {' '.join(key)} is now required"
        for key, parameter in was.items():
            place = f"{where}: {' '.join(key)}"
            if key not in now:
                yield f"{place} is no longer taken"
            else:
                yield from self._schemas.sent(place, parameter.get("schema", {}), now[key].get("schema", {}))

    def _answers(self, where: str, was: Json, now: Json) -> Iterator[str]:
        """Good ones; problems are of one shape, and which there may be is no promise."""
        for status in (each for each in was if each.startswith("2")):
            place = f"{where}: answer {status}"
            if status not in now:
                yield f"{place} is no longer given"
                continue
            before, after = resolved(was[status], self._old), resolved(now[status], self._new)
            for header in sorted(before.get("headers", {}).keys() - after.get("headers", {}).keys()):
                yield f"{place} is without the header {header}"
            yield from self._bodies(place, _media(before), _media(after), answers=True)

    def _bodies(self, where: str, was: Json, now: Json, *, answers: bool) -> Iterator[str]:
        compare = self._schemas.answered if answers else self._schemas.sent
        for media_type, before in was.items():
            if media_type not in now:
                yield f"{where} is no longer {media_type}"
            else:
                yield from compare(where, before.get("schema", {}), now[media_type].get("schema", {}))


def _media(body: Json) -> Mapping[str, Any]:
    found: Mapping[str, Any] = body.get("content", {})
    return found


def _with_parameters(item: Json, method: str, document: Json) -> Json:
    """An operation with all its parameters, by place and name."""
    said = [*item.get("parameters", ()), *item[method].get("parameters", ())]
    found = (resolved(each, document) for each in said)
    return {**item[method], "parameters": {(each["in"], each["name"]): each for each in found}}
