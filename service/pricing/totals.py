"""From lines at cost to what the customer pays, in one fixed order, each step in whole minor units."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from service.pricing.lines import plain_line
from service.pricing.model import Line, LineKind, Payment, Stage, TaxLine, TaxRule, Terms, Totals
from service.pricing.money import apportion, minor_unit, percent_of, to_minor, to_step
from service.pricing.terms import rate_of_group

ZERO = Decimal(0)


def total(at_cost: Sequence[Line], terms: Terms) -> tuple[tuple[Line, ...], Totals]:
    """The lines with their prices, then discount and rounding as lines, and the totals of them all.

    materials + delivery + labour = cost; contingency on cost; markup or margin of each role group on its cost
    and its part of the contingency; discount on all that; rounding to the step of the terms = net;
    taxes on their bases; gross; deposit, stages and retention out of gross.
    """
    materials, delivery, labour = (_cost(at_cost, kind) for kind in ("material", "delivery", "labour"))
    cost = materials + delivery + labour
    contingency = to_minor(percent_of(cost, terms.contingency_percent), terms.rounding)
    lines = _with_uplift(_with_contingency(at_cost, contingency, terms), terms)
    asked = _price(lines)
    markup = asked - cost - contingency
    discount = to_minor(percent_of(asked, terms.discount_percent), terms.rounding)
    net = _stepped(asked - discount, terms)
    rounding = net - (asked - discount)
    taxes = _taxes(lines, net, terms)
    tax = sum((line.amount for line in taxes), ZERO)
    totals = Totals(
        materials=materials,
        delivery=delivery,
        labour=labour,
        contingency=contingency,
        markup=markup,
        discount=discount,
        rounding=rounding,
        net=net,
        tax=tax,
        taxes=taxes,
        gross=net + tax,
        deposit=to_minor(percent_of(net + tax, terms.deposit_percent), terms.rounding),
        stages=_stages(net + tax, terms),
        retention=to_minor(percent_of(net + tax, terms.retention_percent), terms.rounding),
    )
    return (*lines, *_adjustments(-discount, rounding, terms)), totals


def _cost(lines: Iterable[Line], kind: str) -> Decimal:
    return sum((line.amount for line in lines if line.kind == kind), ZERO)


def _price(lines: Iterable[Line], *kinds: LineKind) -> Decimal:
    return sum((line.price for line in lines if not kinds or line.kind in kinds), ZERO)


def _with_contingency(lines: Sequence[Line], contingency: Decimal, terms: Terms) -> list[Line]:
    """Each line's price: its amount and its part of the contingency."""
    shares = apportion(contingency, [line.amount for line in lines], minor_unit(terms.rounding))
    return [replace(line, price=line.amount + share) for line, share in zip(lines, shares, strict=True)]


def _with_uplift(lines: Sequence[Line], terms: Terms) -> list[Line]:
    """Each group's uplift is rounded once on the group's sum and then shared out to its lines."""
    raised = list(lines)
    for group in dict.fromkeys(line.group for line in lines):
        places = [i for i, line in enumerate(lines) if line.group == group]
        prices = [lines[i].price for i in places]
        uplift = to_minor(Fraction(sum(prices, ZERO)) * rate_of_group(terms, group), terms.rounding)
        for i, share in zip(places, apportion(uplift, prices, minor_unit(terms.rounding)), strict=True):
            raised[i] = replace(lines[i], price=lines[i].price + share)
    return raised


def _stepped(net: Decimal, terms: Terms) -> Decimal:
    step = terms.rounding.total_step
    return net if step is None else to_minor(to_step(net, step, terms.rounding), terms.rounding)


def _taxes(lines: Sequence[Line], net: Decimal, terms: Terms) -> tuple[TaxLine, ...]:
    """Net is split between goods (with delivery) and labour as their prices are; the bases add up to it."""
    weights = [_price(lines, "material", "delivery"), _price(lines, "labour")]
    goods, work = apportion(net, weights, minor_unit(terms.rounding))
    base = {"materials": goods, "labour": work, "all": net}
    return tuple(_tax(rule, base[rule.base], terms) for rule in terms.taxes)


def _tax(rule: TaxRule, base: Decimal, terms: Terms) -> TaxLine:
    return TaxLine(rule.name, rule.percent, base, to_minor(percent_of(base, rule.percent), terms.rounding))


def _stages(gross: Decimal, terms: Terms) -> tuple[Payment, ...]:
    """Stage payments; the last takes the remainder, so that together they are exactly their percent of gross.

    Where deposit and stages make up the whole, so do their amounts.
    """
    if not terms.stages:
        return ()
    percent = sum((stage.percent for stage in terms.stages), ZERO)
    together = to_minor(percent_of(gross, percent), terms.rounding)
    if percent + terms.deposit_percent == 100:
        together = gross - to_minor(percent_of(gross, terms.deposit_percent), terms.rounding)
    first = [_payment(stage, gross, terms) for stage in terms.stages[:-1]]
    rest = together - sum((payment.amount for payment in first), ZERO)
    return (*first, Payment(terms.stages[-1].name, rest))


def _payment(stage: Stage, gross: Decimal, terms: Terms) -> Payment:
    return Payment(stage.name, to_minor(percent_of(gross, stage.percent), terms.rounding))


def _adjustments(discount: Decimal, rounding: Decimal, terms: Terms) -> list[Line]:
    """Discount and rounding as lines of no cost."""
    found = [(name, price) for name, price in (("discount", discount), ("rounding", rounding)) if price]
    one = Decimal(1)
    return [
        replace(plain_line("adjustment", name, name, "sum", one, ZERO, terms.rounding), price=price)
        for name, price in found
    ]
