"""From lines at cost to what the customer pays, each step as the terms have it."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from service.pricing.model import TaxLine, TaxRule, Totals
from service.pricing.money import percent_of, to_minor
from service.quoting.explanation.figures import ZERO, Figures
from service.quoting.explanation.node import Node, Step, said
from service.quoting.explanation.shares import add_shares, add_weights, shared_out


def add_totals(figures: Figures, totals: Totals) -> None:
    """All figures of the totals, and the shares of the lines that they are made of."""
    _add_costs(figures)
    add_shares(figures)
    _add_net(figures, totals)
    add_taxes(figures, totals)
    figures.add("/totals/gross", figures.sum, "gross", "net and tax", "/totals/net", "/totals/tax")
    _add_payments(figures, totals)


def _add_costs(figures: Figures) -> None:
    facts = figures.facts
    for kind, name in (("material", "materials"), ("delivery", "delivery"), ("labour", "labour")):
        lines = [place for place in facts.priced_lines if facts.lines[place].kind == kind]
        words = f"the amounts of all lines of {kind}"
        amounts = [f"/lines/{place}/amount" for place in lines]
        figures.add(f"/totals/{name}", figures.sum, name, words, *amounts)
    costs = ("/totals/materials", "/totals/delivery", "/totals/labour")
    figures.add("#/cost", figures.sum, "cost", "materials, delivery and labour", *costs)


def _add_net(figures: Figures, totals: Totals) -> None:
    asked = ("#/cost", "/totals/contingency", "/totals/markup")
    figures.add("#/asked", figures.sum, "price asked", "cost, contingency and markup", *asked)
    less = ("#/asked", "/totals/discount")
    figures.add("#/discounted", figures.less, "price after discount", "price asked less discount", *less)
    figures.add("/totals/minimum_charge", _minimum_charge, figures, totals)
    raised = ("#/discounted", "/totals/minimum_charge")
    figures.add("#/raised", figures.sum, "price before rounding", "with what lacks to the least", *raised)
    figures.add("/totals/net", _net, figures, totals)
    rounding = ("/totals/net", "#/raised")
    figures.add("/totals/rounding", figures.less, "rounding", "net less the price before rounding", *rounding)


def _minimum_charge(figures: Figures, totals: Totals) -> Node:
    facts = figures.facts
    if facts.terms.minimum_charge is None:
        return said("minimum charge", ZERO, facts.currency, facts.terms_source, "none is stated")
    stated = said("least charge", facts.terms.minimum_charge, facts.currency, facts.terms_source)
    rounded = to_minor(stated.value, facts.terms.rounding)
    least = figures.money("least charge", rounded, "round", "to whole minor units", stated)
    words, discounted = "what the price lacks to the least that is charged", figures["#/discounted"]
    return figures.money("minimum charge", totals.minimum_charge, "missing", words, least, discounted)


def _net(figures: Figures, totals: Totals) -> Node:
    step = figures.facts.terms.rounding.total_step
    words = "to whole minor units" if step is None else f"to steps of {step:f}, by the terms"
    node = figures.money("net", totals.net, "round", words, figures["#/raised"])
    if step is None:
        return node
    return replace(node, steps=(Step(step, figures.facts.minor.method), *node.steps))


def add_taxes(figures: Figures, totals: Totals) -> None:
    """Each tax on its part of net, by the prices of the lines."""
    facts = figures.facts
    parts = _bases_by_line(figures) if facts.by_line else _bases(figures)
    for place, (line, rule) in enumerate(zip(totals.taxes, facts.terms.taxes, strict=True)):
        here = f"/totals/taxes/{place}"
        of = parts[rule.base]
        words = f"net of {rule.base}, by the prices of its lines" if rule.base != "all" else "all of net"
        figures.add(f"{here}/base", figures.sum, f"base of {line.name}", words, *of)
        taxed = [f"#{here}/parts/{number}" for number in range(len(of))]
        for part, base in zip(taxed, of, strict=True):
            figures.add(
                part, figures.percent, line.name, line.percent, _tax_source(figures, line, rule), base
            )
        figures.add(f"{here}/amount", figures.sum, line.name, "the tax on its base", *taxed)
    amounts = [f"/totals/taxes/{place}/amount" for place in range(len(totals.taxes))]
    figures.add("/totals/tax", figures.sum, "tax", "all taxes", *amounts)


def _tax_source(figures: Figures, line: TaxLine, rule: TaxRule) -> str:
    charged = "reverse charge: the business customer accounts for it" if line.reverse_charge else ""
    region = f"taxes of {figures.facts.terms.tax_region}" if figures.facts.terms.tax_region else ""
    return "; ".join(text for text in (region or figures.facts.terms_source, charged) if text)


def _bases(figures: Figures) -> dict[str, list[str]]:
    """Net shared out to goods and labour as their prices are."""
    facts, prices = figures.facts, {}
    for name, labour in (("goods", False), ("work", True)):
        lines = [p for p in facts.priced_lines if (facts.lines[p].kind == "labour") is labour]
        prices[name] = f"#/prices/{name}"
        figures.add(
            prices[name],
            figures.sum,
            f"prices of {name}",
            "of their lines",
            *(f"/lines/{p}/price" for p in lines),
        )
    add_weights(figures, "#/weights/net", prices["goods"], prices["work"])
    for place, name in enumerate(("materials", "labour")):
        figures.add(f"#/net/{name}", shared_out, figures, "/totals/net", "#/weights/net", place)
    return {"materials": ["#/net/materials"], "labour": ["#/net/labour"], "all": ["/totals/net"]}


def _bases_by_line(figures: Figures) -> dict[str, list[str]]:
    """Net shared out to all lines as their prices less discount are."""
    facts, lines = figures.facts, figures.facts.priced_lines
    for place in lines:
        less = (f"/lines/{place}/price", f"#/lines/{place}/discount")
        figures.add(f"#/lines/{place}/discounted", figures.less, "price after discount", "of the line", *less)
    add_weights(figures, "#/weights/net", *(f"#/lines/{place}/discounted" for place in lines))
    for number, place in enumerate(lines):
        figures.add(f"#/lines/{place}/net", shared_out, figures, "/totals/net", "#/weights/net", number)
    work = [f"#/lines/{p}/net" for p in lines if facts.lines[p].kind == "labour"]
    goods = [f"#/lines/{p}/net" for p in lines if facts.lines[p].kind != "labour"]
    return {"materials": goods, "labour": work, "all": [f"#/lines/{p}/net" for p in lines]}


def _add_payments(figures: Figures, totals: Totals) -> None:
    """Deposit, retention and stages; the last stage takes what the others leave of all stages together."""
    terms, source = figures.facts.terms, figures.facts.terms_source

    def of_gross(figure: str, name: str, percent: Decimal) -> None:
        figures.add(figure, figures.percent, name, percent, source, "/totals/gross")

    of_gross("/totals/deposit", "deposit", terms.deposit_percent)
    of_gross("/totals/retention", "retention", terms.retention_percent)
    if not terms.stages:
        return
    percent = sum((stage.percent for stage in terms.stages), ZERO)
    if percent + terms.deposit_percent == 100:
        rest = ("/totals/gross", "/totals/deposit")
        figures.add("#/stages", figures.less, "all stages", "what the deposit leaves of gross", *rest)
    else:
        of_gross("#/stages", "all stages", percent)
    last = len(terms.stages) - 1
    first: list[str] = []
    for place, stage in enumerate(terms.stages[:-1]):
        figure = f"/totals/stages/{place}/amount"
        if totals.stages[place].amount == to_minor(percent_of(totals.gross, stage.percent), terms.rounding):
            of_gross(figure, stage.name, stage.percent)
        else:
            left = "what the stages before leave of all, less than its percentage"
            figures.add(figure, figures.less, stage.name, left, "#/stages", *first)
        first.append(figure)
    words = "what the other stages leave of all"
    figures.add(
        f"/totals/stages/{last}/amount", figures.less, terms.stages[-1].name, words, "#/stages", *first
    )
