"""What is bought where: the basket, the cutting of sticks and rolls, exchange rates and tax rates."""

from __future__ import annotations

from decimal import Decimal

from service.pricing.buying import Basket, Dearer, Order
from service.pricing.model import Cutting, Line
from service.quoting.explanation.figures import Figures
from service.quoting.explanation.node import Node, said


def add_purchase(figures: Figures) -> None:
    """The figures of the purchase, each with what it is the sum or the difference of."""
    facts = figures.facts
    for place, line in enumerate(facts.lines):
        _add_cutting(figures, place, line)
        if line.exchange is not None:
            rate, source = line.exchange.rate, f"exchange rate {line.exchange.id}"
            figures.add(f"/lines/{place}/exchange/rate", said, "exchange rate", rate, "1", source)
    for place, tax in enumerate(facts.totals.taxes if facts.totals else ()):
        source = f"taxes of {facts.terms.tax_region}" if facts.terms.tax_region else facts.terms_source
        figures.add(
            f"/totals/taxes/{place}/percent", said, f"rate of {tax.name}", tax.percent, "percent", source
        )
    if facts.basket is not None:
        _add_basket(figures, facts.basket)


def _add_cutting(figures: Figures, place: int, line: Line) -> None:
    if line.cutting is None:
        return
    cutting, here = line.cutting, f"/lines/{place}/cutting"
    words = {
        "cost": f"all packs of the product in which its pieces lie, by {cutting.method}",
        "bound": "no packs of the supplier's for these pieces cost less",
    }
    for name, told in words.items():
        figures.add(f"{here}/{name}", _searched, figures, name, getattr(cutting, name), told)
    figures.add(
        f"{here}/gap", figures.less, "gap", "cost less bound; 0: proven", f"{here}/cost", f"{here}/bound"
    )
    figures.add(f"{here}/joints", _joints, cutting)


def _joints(cutting: Cutting) -> Node:
    words = "joints in runs that are longer than the longest stick or roll, as they are cut"
    return Node("joints", Decimal(cutting.joints), "1", "measured", words)


def _searched(figures: Figures, name: str, value: Decimal, words: str, *parts: Node) -> Node:
    """A cost that a search ended with."""
    return Node(name, value, figures.facts.currency, "measured", words, parts)


def _add_basket(figures: Figures, basket: Basket) -> None:
    orders = range(len(basket.orders))
    for place, order in enumerate(basket.orders):
        for name, kind in (("goods", "material"), ("delivery", "delivery")):
            figures.add(f"/basket/orders/{place}/{name}", _order, figures, order, name, kind)
    paid = [f"/basket/orders/{place}/{name}" for place in orders for name in ("goods", "delivery")]
    figures.add("/basket/cost", figures.sum, "basket", "goods and delivery of all orders", *paid)
    judged = (
        "what the basket costs, with the tolerated extra on what others than preferred suppliers are paid"
    )
    figures.add(
        "/basket/judged", _searched, figures, "judged", basket.judged, judged, figures["/basket/cost"]
    )
    bound = f"no basket is judged at less; found by {basket.method}"
    figures.add("/basket/bound", _searched, figures, "bound", basket.bound, bound)
    gap = ("/basket/judged", "/basket/bound")
    figures.add("/basket/gap", figures.less, "gap", "judged less bound; 0: proven", *gap)
    if basket.second_best is not None:
        _add_second(figures, basket.second_best.cost)
    for place, dearer in enumerate(basket.dearer):
        _add_dearer(figures, place, dearer)


def _order(figures: Figures, order: Order, name: str, kind: str) -> Node:
    """The supplier's lines of this kind, as far as they add up to it."""
    lines = enumerate(figures.facts.lines)
    amounts = [f"/lines/{p}/amount" for p, x in lines if (x.supplier, x.kind) == (order.supplier, kind)]
    node = figures.sum(f"{order.supplier_name}: {name}", f"the supplier's lines of {kind}", *amounts)
    value: Decimal = getattr(order, name)
    same = node.value == value
    return node if same else _searched(figures, node.name, value, "as the order comes to", *node.parts)


def _add_second(figures: Figures, cost: Decimal) -> None:
    here = "/basket/second_best"
    figures.add(
        f"{here}/cost", _searched, figures, "second best", cost, "the best of all other baskets found"
    )
    extra = (f"{here}/cost", "/basket/cost")
    figures.add(f"{here}/extra", figures.less, "extra", "second best less the basket", *extra)


def _add_dearer(figures: Figures, place: int, dearer: Dearer) -> None:
    here, role = f"/basket/dearer/{place}", dearer.role.replace("_", " ")
    taken, cheapest = f"{role}: as taken", f"{role}: cheapest"
    words = "goods with their freight and surcharges"
    figures.add(f"{here}/cost", _searched, figures, taken, dearer.cost, words)
    figures.add(f"{here}/cheapest_cost", _searched, figures, cheapest, dearer.cheapest_cost, words)
    more = (f"{here}/cost", f"{here}/cheapest_cost")
    figures.add(f"{here}/extra", figures.less, "extra", "taken less cheapest", *more)
