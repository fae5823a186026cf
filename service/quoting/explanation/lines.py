"""Lines: what was bought for which need at which price, and what the customer pays for it."""

from __future__ import annotations

from decimal import Decimal
from math import ceil

from service.pricing.exchange import UNIT_PRICE, converted
from service.pricing.lines import DAY_WORK
from service.pricing.model import Line
from service.quoting.explanation.figures import Figures
from service.quoting.explanation.node import Node, Step, said
from service.quoting.needs import exact

UNIT_STEP = Step(Decimal(1).scaleb(-UNIT_PRICE.minor), UNIT_PRICE.method)


def add_lines(figures: Figures) -> None:
    """Cost, amount at cost and price of every line."""
    for place, line in enumerate(figures.facts.lines):
        if line.kind == "adjustment":
            figures.add(f"/lines/{place}/price", _adjustment, figures, line)
            continue
        figures.add(f"/lines/{place}/cost", _cost, figures, line)
        figures.add(f"/lines/{place}/quantity", _quantity, figures, place)
        if line.packs is not None and line.pack_size is not None:
            figures.add(f"/lines/{place}/packs", _packs, figures, line)
            figures.add(f"/lines/{place}/pack_size", _pack_size, figures, line)
        figures.add(f"/lines/{place}/amount", _amount, figures, place)
        figures.add(f"/lines/{place}/price", _price, figures, place)


def _amount(figures: Figures, place: int) -> Node:
    facts, line = figures.facts, figures.facts.lines[place]
    cost, count = figures[f"/lines/{place}/cost"], figures[f"/lines/{place}/quantity"]
    if line.packs is not None:
        count = figures[f"/lines/{place}/packs"]
    return Node(
        name=f"{line.description}, at cost",
        value=line.amount,
        unit=facts.currency,
        operation="product",
        words=f"{count.name} times {cost.name}",
        parts=(count, cost),
        steps=(facts.minor,),
    )


def _price(figures: Figures, place: int) -> Node:
    line = figures.facts.lines[place]
    parts = figures.all(f"/lines/{place}/amount", f"#/lines/{place}/contingency", f"#/lines/{place}/uplift")
    words = "cost with its part of the contingency and its uplift"
    return Node(f"{line.description}, price", line.price, figures.facts.currency, "sum", words, parts)


def _adjustment(figures: Figures, line: Line) -> Node:
    total = figures[f"/totals/{line.role}"]
    operation, words = ("negative", "taken off") if line.role == "discount" else ("sum", "as in the totals")
    return Node(line.description, line.price, figures.facts.currency, operation, words, (total,))  # type: ignore[arg-type]


def _needed(figures: Figures, line: Line) -> Node:
    """What the line's product is needed for, over all rooms."""
    parts = figures.all(*(f"/materials/{need}/with_allowance" for need in line.needs))
    needed = sum((part.value for part in parts), Decimal(0))
    return Node(f"{line.description}: needed", needed, line.unit, "sum", "all that it serves", parts)


def _packs(figures: Figures, line: Line) -> Node:
    hold = "with the product's other packs at least what is needed"
    if any(figures.facts.takeoff.materials[need].never_above for need in line.needs):
        hold = "with the product's other packs the most that exceeds no room"
    if line.cutting is not None:
        hold = "from which all pieces can be cut"
    words = f"whole packs of {line.pack_size:f} {line.unit}, {hold}"
    source, packs = f"the basket on {figures.facts.price_date}", Decimal(line.packs or 0)
    parts = (_needed(figures, line), _pack_size(figures, line))
    if line.cutting is not None:
        return Node("packs", packs, "pack", "packs", words, (*parts, *_cutting(figures, line)), source=source)
    alone = sum(other.product == line.product for other in figures.facts.lines) == 1
    if alone and parts[0].unit == line.unit and packs == ceil(parts[0].value / parts[1].value):
        return Node(
            "packs", packs, "pack", "whole", "what is needed over what is in a pack", parts, source=source
        )
    return Node("packs", packs, "pack", "packs", words, parts, source=source)


def _cutting(figures: Figures, line: Line) -> tuple[Node, ...]:
    """What the cutting of all packs of the product costs, and the bound that no other goes below."""
    place = next(p for p, other in enumerate(figures.facts.lines) if other is line)
    return figures.all(f"/lines/{place}/cutting/cost", f"/lines/{place}/cutting/bound")


def _faces(figures: Figures, line: Line) -> Node:
    """Tile that is allowed for by area: pieces times the face of one."""
    parts = tuple(_face(figures, need) for need in line.needs)
    value = sum((part.value for part in parts), Decimal(0))
    words = "the faces of all pieces that are needed"
    return Node(f"{line.description}: area", value, line.unit, "sum", words, parts)


def _face(figures: Figures, need: int) -> Node:
    material, pieces = figures.facts.takeoff.materials[need], figures[f"/materials/{need}/with_allowance"]
    if material.unit == "m2" or material.piece_m2 is None:
        return pieces
    face = exact(material.piece_m2)
    size = said(
        "face of a tile", face, "m2", "the tile's length times its width, by the request or its product"
    )
    words = "pieces times the face of one"
    return Node("area of the pieces", pieces.value * face, "m2", "product", words, (pieces, size))


def _pack_size(figures: Figures, line: Line) -> Node:
    return said("in a pack", line.pack_size or Decimal(0), line.unit, _list_words(figures, line))


def _quantity(figures: Figures, place: int) -> Node:
    line = figures.facts.lines[place]
    if line.packs is not None and line.pack_size is not None:
        parts = figures.all(f"/lines/{place}/packs", f"/lines/{place}/pack_size")
        return Node(
            "what is in the packs", line.quantity, line.unit, "product", "packs times their size", parts
        )
    if line.group == DAY_WORK:
        return said("hours", line.quantity, line.unit, "day work as asked for")
    if line.kind == "labour":
        labour = enumerate(figures.facts.takeoff.labour)
        parts = figures.all(*(f"/labour/{p}/hours" for p, work in labour if work.activity == line.role))
        return Node("hours", line.quantity, line.unit, "sum", "all hours of this work", parts)
    if line.needs and all(figures.facts.takeoff.materials[need].unit == line.unit for need in line.needs):
        return _needed(figures, line)
    if line.needs and line.unit == "m2":
        return _faces(figures, line)
    words = "counted in the unit of the price" if line.needs else "as the supplier charges it"
    return Node("quantity", line.quantity, line.unit, "measured", words)


def _cost(figures: Figures, line: Line) -> Node:
    facts = figures.facts
    if line.kind == "labour":
        return said("cost of an hour", line.cost, facts.currency, facts.labour_source)
    if line.supplier is None:
        return said("allowance for a unit", line.cost, facts.currency, facts.terms_source)
    if line.price_list is None:
        told = f"{line.supplier_name}'s terms of delivery{_rate_words(line)}"
        return said("charge for a unit", line.cost, facts.currency, told)
    return _pack_cost(figures, line)


def _pack_cost(figures: Figures, line: Line) -> Node:
    """The price row, at the exchange rate where it is in another currency."""
    row, words = figures.facts.row_of(line), _list_words(figures, line)
    if (
        row is not None
        and line.exchange is not None
        and converted(row.price, line.exchange.rate) == line.cost
    ):
        price = said("price of a pack", row.price, line.exchange.currency, words, "price row")
        rate = said("exchange rate", line.exchange.rate, "1", _rate_words(line).removeprefix(", "))
        at = "price times exchange rate"
        parts = (price, rate)
        return Node(
            "cost of a pack", line.cost, figures.facts.currency, "product", at, parts, steps=(UNIT_STEP,)
        )
    if row is None or line.exchange is not None or row.price == line.cost:
        return said(
            "cost of a pack", line.cost, figures.facts.currency, words + _rate_words(line), "price row"
        )
    agreed = f"{words}, {row.price:f} on the list, changed by an agreement with the supplier"
    return said("cost of a pack", line.cost, figures.facts.currency, agreed, "price row and agreement")


def _list_words(figures: Figures, line: Line) -> str:
    row = figures.facts.row_of(line)
    head = f"{line.supplier_name}, price list {line.price_list}"
    if row is None:
        return head
    which = f"{row.price_list!r} from {row.valid_from.isoformat()}"
    return f"{head} {which}, pack of {row.pack_size:f}, from {row.min_packs} packs on"


def _rate_words(line: Line) -> str:
    if line.exchange is None:
        return ""
    rate = line.exchange
    return (
        f", at {rate.rate:f} for 1 {rate.currency}, the rate from {rate.valid_from.isoformat()} ({rate.id})"
    )
