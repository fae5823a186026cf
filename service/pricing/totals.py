"""From lines at cost to what the customer pays, in one fixed order, each step in whole minor units."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from decimal import Decimal

from service.pricing.lines import DAY_WORK, charge_note, plain_line
from service.pricing.model import Line, Payment, Terms, Totals
from service.pricing.money import as_part, parts_of, percent_of, to_minor, to_step
from service.pricing.taxes import taxes_on
from service.pricing.terms import rate_of_group

ZERO = Decimal(0)


def total(at_cost: Sequence[Line], terms: Terms) -> tuple[tuple[Line, ...], Totals]:
    """The lines with their prices, then what changes their sum as lines, and the totals of them all.

    materials + delivery + labour = cost; contingency on cost; markup or margin of each role group on its cost
    and its part of the contingency, day work and hours that have a charge at that; discount on all that; at
    least the minimum charge; rounding to the step of the terms = net; taxes on their bases; gross; deposit,
    stages and retention out of gross.
    """
    materials, delivery, labour = (_cost(at_cost, kind) for kind in ("material", "delivery", "labour"))
    cost = materials + delivery + labour
    held = _with_contingency(at_cost, terms)
    lines = _with_uplift(held, terms)
    asked = _price(lines)
    discounts = parts_of([line.price for line in lines], as_part(terms.discount_percent), terms.rounding)
    discount = sum(discounts, ZERO)
    raised = _raise(asked - discount, terms)
    net = _stepped(asked - discount + raised, terms)
    taxes = taxes_on(lines, discounts, net, terms)
    tax = sum((line.amount for line in taxes), ZERO)
    deposit, stages, retention = payments(net + tax, terms)
    totals = Totals(
        materials=materials,
        delivery=delivery,
        labour=labour,
        contingency=_price(held) - cost,
        markup=asked - _price(held),
        discount=discount,
        rounding=net - (asked - discount + raised),
        net=net,
        tax=tax,
        taxes=taxes,
        gross=net + tax,
        deposit=deposit,
        stages=stages,
        retention=retention,
        minimum_charge=raised,
    )
    return (*lines, *_adjustments(totals, terms)), totals


def payments(gross: Decimal, terms: Terms) -> tuple[Decimal, tuple[Payment, ...], Decimal]:
    """Deposit, stages and what is held back, each out of gross."""
    deposit = to_minor(percent_of(gross, terms.deposit_percent), terms.rounding)
    retention = to_minor(percent_of(gross, terms.retention_percent), terms.rounding)
    return deposit, _stages(gross, terms), retention


def _cost(lines: Iterable[Line], kind: str) -> Decimal:
    return sum((line.amount for line in lines if line.kind == kind), ZERO)


def _price(lines: Iterable[Line]) -> Decimal:
    return sum((line.price for line in lines), ZERO)


def _with_contingency(lines: Sequence[Line], terms: Terms) -> list[Line]:
    """Each line's price: its amount and its part of the contingency."""
    rate = as_part(terms.contingency_percent)
    shares = parts_of([line.amount for line in lines], rate, terms.rounding)
    return [replace(line, price=line.amount + share) for line, share in zip(lines, shares, strict=True)]


def _with_uplift(lines: Sequence[Line], terms: Terms) -> list[Line]:
    """Each group's uplift on the prices of its lines; hours that have a charge cost the customer that."""
    raised = list(lines)
    for group in dict.fromkeys(line.group for line in lines):
        places = [i for i, line in enumerate(lines) if line.group == group]
        if group == DAY_WORK:
            for i in places:
                raised[i] = _at_rate(lines[i], terms)
            continue
        if group == "labour" and terms.hourly_charge is not None:
            for i in places:
                raised[i] = _charged(lines[i], terms.hourly_charge, terms)
            continue
        shares = parts_of([lines[i].price for i in places], rate_of_group(terms, group), terms.rounding)
        for i, share in zip(places, shares, strict=True):
            raised[i] = replace(lines[i], price=lines[i].price + share)
    return raised


def _charged(line: Line, hourly: Decimal, terms: Terms) -> Line:
    return replace(line, price=to_minor(line.quantity * hourly, terms.rounding), note=charge_note(hourly))


def _at_rate(line: Line, terms: Terms) -> Line:
    """Day work at the rate that its line names."""
    return replace(line, price=to_minor(line.quantity * terms.hourly_price(line.note), terms.rounding))


def _raise(net: Decimal, terms: Terms) -> Decimal:
    """What is missing to the minimum charge."""
    least = terms.minimum_charge
    return ZERO if least is None else max(ZERO, to_minor(least, terms.rounding) - net)


def _stepped(net: Decimal, terms: Terms) -> Decimal:
    step = terms.rounding.total_step
    return net if step is None else to_minor(to_step(net, step, terms.rounding), terms.rounding)


def _stages(gross: Decimal, terms: Terms) -> tuple[Payment, ...]:
    """Stage payments; the last takes the remainder, so that together they are exactly their percent of gross.

    Where deposit and stages make up the whole, so do their amounts. None takes more than is left, so that
    of the smallest sums, which round up together, no stage is below nothing.
    """
    if not terms.stages:
        return ()
    percent = sum((stage.percent for stage in terms.stages), ZERO)
    together = to_minor(percent_of(gross, percent), terms.rounding)
    if percent + terms.deposit_percent == 100:
        together = gross - to_minor(percent_of(gross, terms.deposit_percent), terms.rounding)
    left, payments = together, []
    for stage in terms.stages[:-1]:
        amount = min(left, to_minor(percent_of(gross, stage.percent), terms.rounding))
        payments.append(Payment(stage.name, amount))
        left -= amount
    return (*payments, Payment(terms.stages[-1].name, left))


def _adjustments(totals: Totals, terms: Terms) -> list[Line]:
    """Discount, minimum charge and rounding as lines of no cost."""
    prices = {
        "discount": -totals.discount,
        "minimum_charge": totals.minimum_charge,
        "rounding": totals.rounding,
    }
    return [_adjustment(name, price, terms) for name, price in prices.items() if price]


def _adjustment(name: str, price: Decimal, terms: Terms) -> Line:
    what = name.replace("_", " ")
    return replace(plain_line("adjustment", name, what, "sum", Decimal(1), ZERO, terms.rounding), price=price)
