"""A quote as plain text, for a terminal: lines, totals, hours, visits, findings and cautions."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal
from textwrap import wrap

from service.pricing.model import Line, Priced, Totals
from service.takeoff.answer import Finding, LabourHours, RoomTakeoff, Schedule, Takeoff

WIDTH = 100
WIDTHS = (34, 18, 18, 9, 10, 11)  # description, supplier, bought, cost of one, amount, price
CENT = Decimal("0.01")
HEADINGS = ("from", "bought", "each", "at cost", "price")
SECTIONS = {"material": "Materials", "delivery": "Delivery", "labour": "Labour"}


def quote_text(title: str, takeoff: Takeoff, priced: Priced) -> str:
    """The whole quote, at most WIDTH characters wide; without totals it says what stands in the way."""
    blocks = [
        [_plain(title), "=" * WIDTH],
        _section("Rooms", _table(_rooms(takeoff.rooms), (28, 10, 10, 9, 8, 8, 8, 11))),
        *_priced(priced),
        _section("Hours by driver", _hours(takeoff.labour_hours)),
        _section("On site", _schedule(takeoff.schedule)),
        _section("Findings", _findings(takeoff.rooms)),
        _section("Assumptions", [row for text in takeoff.assumptions for row in _item("-", text)]),
        _section("Not in the price", [row for text in takeoff.exclusions for row in _item("-", text)]),
        _section("Cautions", [row for caution in takeoff.cautions for row in _item("-", caution)]),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block) + "\n"


def _section(heading: str, rows: Iterable[str]) -> list[str]:
    """Heading, rule and rows; nothing at all without rows."""
    found = list(rows)
    return [heading, "-" * WIDTH, *found] if found else []


def _rooms(rooms: Sequence[RoomTakeoff]) -> Iterator[tuple[str, ...]]:
    yield "", "floor m2", "walls m", "corners", "whole", "cut", "needed", "wastage %"
    for room in rooms:
        measures, layout = room.measures, room.layout
        yield (
            room.name if layout.laid_out else f"{room.name} (not laid out)",
            f"{measures.floor_area_m2:.2f}",
            f"{measures.wall_length_m:.2f}",
            f"{measures.inside_corners} + {measures.outside_corners}",
            str(layout.whole_tiles),
            str(layout.cut_tiles),
            str(layout.tiles_needed),
            f"{layout.wastage_percent:.1f}",
        )


def _priced(priced: Priced) -> Iterator[list[str]]:
    if priced.gaps:
        yield _section("No price yet", [row for gap in priced.gaps for row in _item("!", gap.message)])
    for kind, heading in SECTIONS.items():
        lines = [line for line in priced.lines if line.kind == kind]
        heads, *rows = _table([(heading, *HEADINGS), *map(_line, lines)], WIDTHS, words=2)
        yield _section(heads, rows)
    if any(line.allowance for line in priced.lines):
        yield ["* an allowance: the product is not chosen yet"]
    if priced.totals is not None:
        yield _section(f"Totals in {priced.currency}", _totals(priced.totals))


def _line(line: Line) -> tuple[str, ...]:
    words = ("* " if line.allowance else "") + line.description, line.supplier_name or "", _bought(line)
    return *words, _each(line.cost), f"{line.amount:,}", f"{line.price:,}"


def _bought(line: Line) -> str:
    if line.packs is not None and line.pack_size is not None:
        return f"{line.packs} x {_number(line.pack_size)} {line.unit}"
    return "" if line.kind == "delivery" else f"{_number(line.quantity)} {line.unit}"


def _totals(totals: Totals) -> Iterator[str]:
    for name in ("materials", "delivery", "labour", "contingency", "markup"):
        yield _sum(name, getattr(totals, name))
    yield _sum("discount", -totals.discount)
    yield _sum("rounding", totals.rounding)
    yield _sum("net", totals.net, "-")
    for tax in totals.taxes:
        yield _sum(f"{tax.name}, {_number(tax.percent)} % of {tax.base:,}", tax.amount)
    yield _sum("gross", totals.gross, "=")
    for name, amount in _payments(totals):
        yield _sum(name, amount)


def _payments(totals: Totals) -> Iterator[tuple[str, Decimal]]:
    stated = [("deposit", totals.deposit), *((s.name, s.amount) for s in totals.stages)]
    yield from ((f"of which {name}", amount) for name, amount in stated if amount)
    if totals.retention:
        yield "retention held back", totals.retention


def _sum(name: str, amount: Decimal, above: str = "") -> str:
    """A name and its amount at the right edge, under a rule where it is a sum."""
    row = f"{_clip(name, WIDTH - 16)}{amount:>16,}".rstrip()
    return f"{' ' * (WIDTH - 16)}{above * 16}\n{row}" if above else row


def _each(cost: Decimal) -> str:
    """As stated; zeros that only the database's column adds behind the cent are left out."""
    to_cent = cost.quantize(CENT)
    return f"{min(cost, to_cent, key=_digits) if cost == to_cent else cost:,}"


def _digits(cost: Decimal) -> int:
    return len(cost.as_tuple().digits)


def _hours(hours: LabourHours) -> Iterator[str]:
    for driver, of_driver in hours.by_driver:
        yield f"{driver.replace('_', ' '):<28}{of_driver:>10.2f} h"
    yield f"{'total':<28}{hours.total:>10.2f} h"


def _schedule(schedule: Schedule) -> Iterator[str]:
    alone = f", {schedule.days_alone} of them with one person" if schedule.days_alone else ""
    yield f"{schedule.visits} visits, {schedule.working_days} working days, a crew of {schedule.crew}{alone}"
    for wait in schedule.waits:
        yield from _item("-", f"{wait.hours:g} h after {wait.after} ({wait.source})")


def _findings(rooms: Iterable[RoomTakeoff]) -> Iterator[str]:
    """What is refused or on condition in full; what passed only by name."""
    for room in rooms:
        for finding in sorted((f for f in room.findings if f.verdict != "pass"), key=_gravity):
            text = f"{finding.verdict}, {room.name}: {finding.message} ({finding.source})"
            yield from _item("!" if finding.verdict == "refuse" else "-", text)
        passed = list(dict.fromkeys(f.rule.replace("_", " ") for f in room.findings if f.verdict == "pass"))
        if passed:
            yield from _item("+", f"passed, {room.name}: {', '.join(passed)}")


def _gravity(finding: Finding) -> bool:
    return finding.verdict != "refuse"


def _item(mark: str, text: str) -> list[str]:
    return wrap(_plain(text), WIDTH, initial_indent=f"{mark} ", subsequent_indent="  ")


def _table(rows: Iterable[tuple[str, ...]], widths: tuple[int, ...], words: int = 1) -> Iterator[str]:
    """The first columns are words and stand to the left, figures to the right; each is clipped."""
    for row in rows:
        cells = [_clip(cell, width) for cell, width in zip(row, widths, strict=True)]
        figures = [cell.strip().rjust(len(cell)) for cell in cells[words:]]
        yield "".join([*cells[:words], *figures]).rstrip()


def _clip(text: str, width: int) -> str:
    """One column's text, a space short of the next column."""
    plain = _plain(text)
    return (plain if len(plain) < width else plain[: width - 2] + "\u2026").ljust(width)


def _plain(text: str) -> str:
    """Without line breaks and control characters, which a terminal would obey."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def _number(value: Decimal) -> str:
    """At most two decimals and no trailing zeros."""
    return f"{value:,.2f}".rstrip("0").rstrip(".")
