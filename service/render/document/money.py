"""Prices, what is still to be chosen, taxes, and how it is paid."""

from __future__ import annotations

from collections.abc import Iterator

from service.pricing.model import Priced, TaxLine, Totals
from service.render.document.blocks import Block, Column, Facts, Paragraph, Section, Table, Words
from service.render.document.language import Tongue
from service.render.document.model import Detail, Offer, Sender
from service.render.document.prices import ZERO, Shown, by_kind, room_shares, shown_lines
from service.render.document.text import clean, isolated, paragraphs
from service.render.document.words import ACTIVITIES, ROLES, UNITS, mark, word

HEADINGS = {"material": mark("Material"), "labour": mark("Work"), "delivery": mark("Delivery")}
ADJUSTMENTS = {
    "discount": mark("Discount"),
    "minimum_charge": mark("Minimum charge"),
    "rounding": mark("Rounding"),
}
SHARED = mark("Work, delivery and what serves several rooms are shared out to the rooms by floor area.")

Row = tuple[str, ...]
Sum = tuple[str, str, bool]


def prices(speak: Tongue, offer: Offer, detail: Detail) -> Section:
    """The price as finely as the office shows it; nothing for a floor without one."""
    heading = speak.say("Price")
    if offer.priced is None or offer.priced.totals is None:
        return Section(heading)
    totals = offer.priced.totals
    shown = {"lump_sum": _lump_sum, "by_room": _by_room, "by_line": _by_line}[detail]
    return Section(heading, tuple(shown(speak, offer, offer.priced, totals)))


def _lump_sum(speak: Tongue, offer: Offer, priced: Priced, totals: Totals) -> Iterator[Block]:
    columns = (Column(speak.say("Work and material")), _amount(speak))
    row = speak.say("Tile floor as described"), speak.money(totals.net)
    yield Table(columns, (row,), tuple(_sums(speak, totals)))


def _by_room(speak: Tongue, offer: Offer, priced: Priced, totals: Totals) -> Iterator[Block]:
    columns = (
        Column(speak.say("Room")),
        Column(speak.say("Floor area"), "right", "short"),
        _amount(speak),
    )
    answers = offer.takeoff.rooms
    shares = zip(answers, room_shares(priced, answers), strict=True)
    rows = (
        (isolated(room.name), speak.area(room.measures.floor_area_m2), speak.money(share))
        for room, share in shares
    )
    note = speak.say(SHARED) if len(answers) > 1 else ""
    yield Table(columns, tuple(rows), tuple(_sums(speak, totals)), note)


def _by_line(speak: Tongue, offer: Offer, priced: Priced, totals: Totals) -> Iterator[Block]:
    columns = (
        Column(speak.say("Work and material")),
        Column(speak.say("Quantity"), "right", "short"),
        _amount(speak),
    )
    groups = by_kind(shown_lines(priced))
    rows: list[Row] = []
    for kind, lines in groups.items():
        if kind in HEADINGS:
            rows += [(speak.say(HEADINGS[kind]),), *(_row(speak, line) for line in lines)]
    changes = [
        (word(speak, ADJUSTMENTS, line.role), speak.money(line.price), False)
        for line in groups.get("adjustment", ())
    ]
    open_yet = any(line.allowance for lines in groups.values() for line in lines)
    note = speak.say("* The product is not chosen yet.") if open_yet else ""
    yield Table(columns, tuple(rows), (*changes, *_sums(speak, totals)), note)


def _row(speak: Tongue, line: Shown) -> Row:
    quantity = "" if line.quantity is None else f"{speak.number(line.quantity)} {_unit(speak, line.unit)}"
    return _name(speak, line) + (" *" if line.allowance else ""), quantity, speak.money(line.price)


def _name(speak: Tongue, line: Shown) -> str:
    if line.kind == "labour":
        work = word(speak, ACTIVITIES, line.role)
        return f"{work}{speak.colon} {isolated(line.name)}" if line.name else work
    if line.kind == "delivery":
        return speak.say("Delivery to the site")
    role = word(speak, ROLES, line.role)
    return f"{role}{speak.colon} {isolated(line.name)}" if line.name else role


def _unit(speak: Tongue, unit: str) -> str:
    return speak.say(UNITS[unit]) if unit in UNITS else clean(unit)


def _amount(speak: Tongue) -> Column:
    return Column(speak.say("Amount"), "right", "figure")


def _sums(speak: Tongue, totals: Totals) -> Iterator[Sum]:
    yield speak.say("Net"), speak.money(totals.net), not totals.taxes
    for tax in totals.taxes:
        yield _tax(speak, tax), speak.money(tax.amount), False
    yield speak.say("Total"), speak.money(totals.gross), True


def _tax(speak: Tongue, tax: TaxLine) -> str:
    """The tax by its rate and the part of net that it falls on."""
    return speak.say(
        "{tax}, {percent} of {base}",
        tax=isolated(tax.name),
        percent=speak.percent(tax.percent),
        base=speak.money(tax.base),
    )


def still_open(speak: Tongue, offer: Offer) -> Section:
    """What the customer has yet to choose, with what the price holds for it."""
    lines = [line for line in shown_lines(offer.priced) if line.allowance] if offer.priced else []
    if not lines:
        return Section(speak.say("Still to be chosen"))
    said = speak.say("The price holds these sums for products not chosen yet, and follows the choice.")
    rows = tuple((_name(speak, line), speak.money(line.price)) for line in lines)
    table = Table((Column(speak.say("Work and material")), _amount(speak)), rows)
    return Section(speak.say("Still to be chosen"), (Paragraph(Words(said)), table))


def payment(speak: Tongue, sender: Sender, offer: Offer) -> Section:
    """Deposit, stages and what is held back, each as an amount, and where to pay."""
    totals = offer.priced.totals if offer.priced else None
    blocks: list[Block] = []
    if totals is not None and (rows := tuple(_payments(speak, totals))):
        blocks.append(Table((Column(speak.say("Payment")), _amount(speak)), rows))
    blocks += [Paragraph(Words(part)) for part in paragraphs(sender.payment_terms)]
    if sender.bank_details:
        bank = ", ".join(isolated(line) for line in sender.bank_details)
        blocks.append(Facts(((speak.say("Bank"), bank),)))
    return Section(speak.say("Payment"), tuple(blocks))


def _payments(speak: Tongue, totals: Totals) -> Iterator[Row]:
    if totals.deposit:
        yield speak.say("Deposit"), speak.money(totals.deposit)
    for stage in totals.stages:
        yield isolated(stage.name), speak.money(stage.amount)
    rest = totals.gross - totals.deposit - sum((stage.amount for stage in totals.stages), start=ZERO)
    if rest > 0:
        yield speak.say("Remainder on completion"), speak.money(rest)
    if totals.retention:
        yield speak.say("Held back from the total until faults are made good"), speak.money(totals.retention)
