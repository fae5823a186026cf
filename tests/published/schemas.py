"""Whether what one JSON Schema lets through another lets through too (JSON Schema 2020-12, Validation).

Only the keywords that the description uses; a pattern or format that differs counts as narrower, since no
one can tell.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import inf
from typing import Any

Json = Mapping[str, Any]
KINDS = frozenset({"string", "number", "integer", "boolean", "null", "array", "object"})
UPPER = ("maxLength", "maxItems", "maxProperties")
LOWER = ("minLength", "minItems", "minProperties")
SAME = ("pattern", "format", "contentMediaType")


class Schemas:
    """Schemas of an old description and of a new one."""

    def __init__(self, old: Json, new: Json) -> None:
        self._old, self._new = old, new
        self._seen: set[tuple[str, str, bool]] = set()

    def sent(self, where: str, old: Json, new: Json) -> Iterator[str]:
        """Why something that callers sent may be refused now."""
        yield from self._within(where, old, new, sent=True)

    def answered(self, where: str, old: Json, new: Json) -> Iterator[str]:
        """Why callers may not understand what they are answered now."""
        yield from self._within(where, old, new, sent=False)

    def _within(self, where: str, old: Json, new: Json, *, sent: bool) -> Iterator[str]:
        names = old.get("$ref", ""), new.get("$ref", "")
        if all(names):
            if (*names, sent) in self._seen:
                return
            self._seen.add((*names, sent))
            where = f"{names[1].rpartition('/')[2]} {'as sent' if sent else 'as answered'}"
        old, new = resolved(old, self._old), resolved(new, self._new)
        inner, outer = (old, new) if sent else (new, old)
        yield from (f"{where}: {fault}" for fault in narrower(inner, outer))
        if not sent:
            yield from (f"{where}: {word} is no longer said" for word in silent(old, new))
        yield from self._forms(where, old, new, sent=sent)
        yield from self._members(where, old, new, sent=sent)
        for name in ("items", "additionalProperties"):
            parts = old.get(name), new.get(name)
            if all(isinstance(part, Mapping) for part in parts):
                yield from self._within(f"{where}[]", *parts, sent=sent)

    def _forms(self, where: str, old: Json, new: Json, *, sent: bool) -> Iterator[str]:
        """Each form on the inner side is one of the outer's."""
        if not (forms(old) or forms(new)):
            return
        olds, news = forms(old) or [old], forms(new) or [new]
        for tight in olds if sent else news:
            name = tight.get("$ref")
            if name and any(each.get("$ref") == name for each in (news if sent else olds)):
                yield from self._within(where, tight, tight, sent=sent)
                continue
            pairs = [(tight, wide) for wide in news] if sent else [(wide, tight) for wide in olds]
            if all(self._differs(*pair, sent=sent) for pair in pairs):
                yield f"{where}: {shown(tight)} is {'no longer taken' if sent else 'a new form'}"

    def _differs(self, old: Json, new: Json, *, sent: bool) -> bool:
        """Asked of a pair by itself, so that forms that do not belong together leave no trace."""
        alone = Schemas(self._old, self._new)
        alone._seen = set(self._seen)
        return any(True for _ in alone._within("", old, new, sent=sent))

    def _members(self, where: str, old: Json, new: Json, *, sent: bool) -> Iterator[str]:
        olds, news = old.get("properties", {}), new.get("properties", {})
        for name in sorted(olds.keys() - news.keys()):
            if not sent or new.get("additionalProperties") is False:
                yield f"{where}.{name}: gone"
        for name in sorted(olds.keys() & news.keys()):
            yield from self._within(f"{where}.{name}", olds[name], news[name], sent=sent)
        always, wanted = set(old.get("required", ())), set(new.get("required", ()))
        for name in sorted(wanted - always if sent else (always - wanted) & news.keys()):
            yield f"{where}.{name}: {'now required' if sent else 'no longer always there'}"


def resolved(schema: Json, document: Json) -> Json:
    """The schema that a local reference leads to."""
    while "$ref" in schema:
        found: Any = document
        for step in schema["$ref"].removeprefix("#/").split("/"):
            found = found[step]
        schema = found
    return schema


def forms(schema: Json) -> list[Json]:
    return [*schema.get("oneOf", ()), *schema.get("anyOf", ())]


def shown(schema: Json) -> str:
    return str(schema.get("$ref", schema.get("type", "a form"))).rpartition("/")[2]


def kinds(schema: Json) -> frozenset[str]:
    """The types that it lets through; an integer is a number."""
    said = schema.get("type", KINDS)
    found = {said} if isinstance(said, str) else set(said)
    return frozenset(found | {"integer"} if "number" in found else found)


def words(schema: Json) -> list[Any] | None:
    return [schema["const"]] if "const" in schema else schema.get("enum")


def silent(old: Json, new: Json) -> list[Any]:
    """Words of a closed list that is shorter now."""
    now = words(new)
    return [] if now is None else [word for word in words(old) or () if word not in now]


def narrower(inner: Json, outer: Json) -> Iterator[str]:
    """What the inner schema lets through and the outer refuses by itself."""
    if not (forms(inner) or forms(outer)) and (more := kinds(inner) - kinds(outer)):
        yield f"{', '.join(sorted(more))} beside or in place of {', '.join(sorted(kinds(outer)))}"
    known, said = words(outer), words(inner)
    if known is not None and (more_words := ["any"] if said is None else [w for w in said if w not in known]):
        yield f"{', '.join(map(str, more_words))} where there was a closed list"
    if low(inner) < low(outer) or any(inner.get(name, 0) < outer.get(name, 0) for name in LOWER):
        yield "another low bound"
    if high(inner) > high(outer) or any(inner.get(name, inf) > outer.get(name, inf) for name in UPPER):
        yield "another high bound"
    for name in SAME:
        if name in outer and inner.get(name) != outer[name] and "string" in kinds(inner):
            yield f"another {name}"


def low(schema: Json) -> tuple[float, int]:
    """The least number, and whether it is itself left out."""
    return max((schema.get("minimum", -inf), 0), (schema.get("exclusiveMinimum", -inf), 1))


def high(schema: Json) -> tuple[float, int]:
    return min((schema.get("maximum", inf), 0), (schema.get("exclusiveMaximum", inf), -1))
