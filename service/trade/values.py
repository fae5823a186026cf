"""The loader of the trade's values (service/trade/data/*.toml).

A value holds from its from-date until a later one of the same key and standards begins; a value of a
country's standards goes before the general one. Values are never edited, only followed by newer ones, so
that an old take-off can be done again with the edition that it names.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from functools import cache
from importlib import resources
from typing import Any, Literal

Tag = Literal["standard", "common practice", "from memory", "derived"]
TAGS: tuple[Tag, ...] = ("standard", "common practice", "from memory", "derived")
STANDARDS = ("us", "uk", "de")


class UnknownTradeValue(KeyError):
    """No value of this key is in force on the day asked for."""


@dataclass(frozen=True, slots=True)
class TradeValue:
    """One value: a number, a word, or a table (list of rows), with its unit and where it comes from."""

    key: str
    value: Any
    unit: str
    from_date: date
    source: str
    tag: Tag
    standards: str | None = None
    overridden: bool = False

    @property
    def citation(self) -> str:
        """How a finding cites this value."""
        text = self.source if self.source == self.tag else f"{self.source} [{self.tag}]"
        return f"{text}; the organisation's own value" if self.overridden else text


@dataclass(frozen=True)
class TradeValues:
    """The values in force on one day under one country's standards."""

    standards: str
    edition: str
    by_key: Mapping[str, TradeValue]

    def __getitem__(self, key: str) -> TradeValue:
        try:
            return self.by_key[key]
        except KeyError:
            raise UnknownTradeValue(f"no trade value {key!r} in edition {self.edition}") from None

    def number(self, key: str) -> float:
        """The value as a number, in the unit that it is kept in."""
        return float(self[key].value)

    def word(self, key: str) -> str:
        return str(self[key].value)

    def table(self, key: str) -> list[dict[str, Any]]:
        """The rows of a value that is a table."""
        return list(self[key].value)

    def citation(self, key: str) -> str:
        return self[key].citation

    def overridden_by(self, own: Mapping[str, float]) -> TradeValues:
        """These values with an organisation's own in their place, marked as such."""
        changed = {key: replace(self[key], value=value, overridden=True) for key, value in own.items()}
        return replace(self, by_key={**self.by_key, **changed})


@cache
def load_trade_values(standards: str, on: date) -> TradeValues:
    """The values in force on `on` under `standards` (us, uk or de)."""
    return choose(_all_values(), standards, on)


def load_edition(edition: str) -> TradeValues:
    """The values of an edition as a take-off names it, such as "2026-01-01/us"; ValueError for no edition."""
    standards, day = parse_edition(edition)
    return load_trade_values(standards, day)


def parse_edition(edition: str) -> tuple[str, date]:
    """Standards and day of an edition.

    Since values are only ever followed by newer ones, the values in force on that day are those of the
    edition, whatever came after.
    """
    day, slash, standards = edition.partition("/")
    if not slash or standards not in STANDARDS:
        raise ValueError(f"{edition!r} names no edition, such as 2026-01-01/us")
    return standards, date.fromisoformat(day)


def choose(values: Iterable[TradeValue], standards: str, on: date) -> TradeValues:
    """Of each key the country's own value before the general one, then the latest begun."""
    held = [v for v in values if v.from_date <= on and v.standards in (None, standards)]
    held.sort(key=lambda v: (v.standards is not None, v.from_date))
    by_key = {value.key: value for value in held}
    newest = max((v.from_date for v in by_key.values()), default=date.min)
    return TradeValues(standards, f"{newest.isoformat()}/{standards}", by_key)


@cache
def _all_values() -> tuple[TradeValue, ...]:
    folder = resources.files("service.trade") / "data"
    files = sorted((f for f in folder.iterdir() if f.name.endswith(".toml")), key=lambda f: f.name)
    return tuple(value for f in files for value in parse_values(f.read_text("utf-8"), f.name))


def parse_values(text: str, name: str) -> tuple[TradeValue, ...]:
    """Read one data file; a wrong entry is refused with the file's name and the entry's key."""
    return tuple(_value(entry, name) for entry in tomllib.loads(text).get("value", []))


def _value(entry: dict[str, Any], name: str) -> TradeValue:
    where = f"{name}: {entry.get('key', 'an entry without key')}"
    missing = {"key", "value", "unit", "from", "source", "tag"} - entry.keys()
    if missing:
        raise ValueError(f"{where}: {', '.join(sorted(missing))} missing")
    if entry["tag"] not in TAGS:
        raise ValueError(f"{where}: tag {entry['tag']!r} is none of {', '.join(TAGS)}")
    return TradeValue(
        key=entry["key"],
        value=entry["value"],
        unit=entry["unit"],
        from_date=entry["from"],
        source=entry["source"],
        tag=entry["tag"],
        standards=entry.get("standards"),
    )
