"""Taxes by rate on their bases: goods with their delivery, labour, or all."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from service.pricing.model import Line, TaxLine, TaxRule, Terms
from service.pricing.money import apportion, as_part, minor_unit, parts_of

ZERO = Decimal(0)


def taxes_on(
    lines: Sequence[Line], discounts: Sequence[Decimal], net: Decimal, terms: Terms
) -> tuple[TaxLine, ...]:
    """Each tax of the terms on its part of net.

    `discounts` are the lines' own. The lines' parts of net, and so the bases of materials and labour, add up
    to it: what a minimum charge or rounding changed is shared out as the lines' prices less discount are.
    """
    bases = _bases(lines, discounts, net, terms)
    return tuple(_tax(rule, bases, terms) for rule in terms.taxes)


def _bases(
    lines: Sequence[Line], discounts: Sequence[Decimal], net: Decimal, terms: Terms
) -> dict[str, list[Decimal]]:
    """The parts of net that a tax is taken of, by its base: those of the lines, or of goods and labour."""
    unit = minor_unit(terms.rounding)
    if terms.rounding.per == "total":
        goods, work = apportion(net, [_price(lines, labour=False), _price(lines, labour=True)], unit)
        return {"materials": [goods], "labour": [work], "all": [net]}
    parts = apportion(net, [line.price - off for line, off in zip(lines, discounts, strict=True)], unit)
    by_line = list(zip(parts, lines, strict=True))
    return {
        "materials": [part for part, line in by_line if line.kind != "labour"],
        "labour": [part for part, line in by_line if line.kind == "labour"],
        "all": parts,
    }


def _price(lines: Sequence[Line], *, labour: bool) -> Decimal:
    return sum((line.price for line in lines if (line.kind == "labour") is labour), ZERO)


def _tax(rule: TaxRule, bases: dict[str, list[Decimal]], terms: Terms) -> TaxLine:
    """A business customer under reverse charge is charged none, at rate 0 (EN 16931-1, BR-AE-08 and 09)."""
    parts = bases[rule.base]
    base = sum(parts, ZERO)
    if terms.reverses(rule):
        return TaxLine(rule.name, ZERO, base, ZERO, reverse_charge=True)
    amounts = parts_of(parts, as_part(rule.percent), terms.rounding)
    return TaxLine(rule.name, rule.percent, base, sum(amounts, ZERO))
