"""What is taken for the facts that nobody gave, and what the price does not hold because of it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Literal

from service.takeoff.answer import Finding
from service.trade.values import TradeValues

Told = Iterable[tuple[str, Sequence[Finding]]]
"""Rooms by name with their findings."""


def stated(findings: Iterable[Finding], values: TradeValues) -> tuple[Finding, ...]:
    """The findings, each condition whose doing is nobody's price with what is taken for granted instead."""
    rows = {row["rule"]: row for row in values.table("conditions.rules") if "asks" in row}
    return tuple(
        replace(finding, asks=rows[finding.rule]["asks"], accept=rows[finding.rule].get("accept", False))
        if finding.verdict == "condition" and not finding.asks and finding.rule in rows
        else finding
        for finding in findings
    )


def take(kind: Literal["assumption", "exclusion"], told: Told, values: TradeValues) -> tuple[str, ...]:
    """One sentence for each missing fact, with the rooms that miss it, in the order of their first asking."""
    rooms: dict[str, list[str]] = {}
    for name, findings in told:
        for finding in findings:
            if finding.asks and f"{kind}.{finding.asks}" in values.by_key:
                rooms.setdefault(finding.asks, []).append(name)
    return tuple(
        f"{', '.join(dict.fromkeys(names))}: {values.word(f'{kind}.{asked}')}"
        for asked, names in rooms.items()
    )
