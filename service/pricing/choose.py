"""Which products could serve each need: the office's choice, else all that fit and are on sale."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from decimal import Decimal

from service.pricing.fit import fits, wanted
from service.pricing.lengths import lengths_of, same_cutting
from service.pricing.market import Market
from service.pricing.model import Gap, Need, Product
from service.sentence import Sentence, listed, say


def merged(needs: Iterable[Need]) -> list[Need]:
    """Needs that ask for the same thing, added up, in the order of their first mention."""
    by_kind: dict[tuple[object, ...], Need] = {}
    for need in needs:
        cutting = same_cutting(need)
        kind = (need.role, need.unit, need.conditions, need.product, need.one_system, cutting)
        by_kind[kind] = _together(by_kind[kind], need) if kind in by_kind else need
    return list(by_kind.values())


def _together(first: Need, second: Need) -> Need:
    areas = [need.area_m2 for need in (first, second) if need.area_m2 is not None]
    return replace(
        first,
        quantity=first.quantity + second.quantity,
        rooms=tuple(dict.fromkeys(first.rooms + second.rooms)),
        area_m2=sum(areas, Decimal(0)) if areas else None,
        lengths=lengths_of((first, second)),
        places=first.places + second.places,
        limits=first.limits + second.limits,
    )


def candidates(need: Need, market: Market) -> list[Product] | Gap:
    """The products on sale that could serve the need, or why there is none."""
    if need.product is not None:
        return _office_choice(need, need.product, market)
    known = market.of_role(need.role)
    fitting = [product for product in known if fits(product, need)]
    sold = [product for product in fitting if market.sold(product)]
    small = [product for product in sold if market.small_enough(product, need)]
    if sold and not small:
        return _too_large(need)
    if known and not fitting:
        what = f"no {need.role} counted in {need.unit} fits; wanted {wanted(need.conditions)}"
        return Gap(need.role, "no_fit", what)
    what = f"no supplier sells a fitting {need.role} on the price date"
    return small or Gap(need.role, "no_supplier", what)


def _office_choice(need: Need, id_: str, market: Market) -> list[Product] | Gap:
    product = market.product(id_)
    if product is None:
        return Gap(need.role, "unknown_product", f"product {id_} is not known")
    if not fits(product, need):
        asked = f"{need.role} counted in {need.unit}; wanted {wanted(need.conditions)}"
        what = f"{product.name} is no fitting {asked}"
        return Gap(need.role, "no_fit", what)
    if market.sold(product) and not market.small_enough(product, need):
        return _too_large(need)
    if not market.sold(product):
        what = f"no supplier sells {product.name} ({need.role}) on the price date"
        return Gap(need.role, "no_supplier", what)
    return [product]


def _too_large(need: Need) -> Gap:
    what = f"no {need.role} on sale is as small as {min(need.limits):f} {need.unit}, and it is never cut"
    return Gap(need.role, "no_fit", what)


def system_gap(needs: Sequence[Need], products: Sequence[Sequence[Product]]) -> Gap | None:
    """Why no one system meets all the needs that ask for one; None where one does, or none asks."""
    wet = [(need, found) for need, found in zip(needs, products, strict=True) if need.one_system]
    systems = sorted({p.system for _, found in wet for p in found if p.system is not None})
    lacking = {system: _lacking(system, wet) for system in systems}
    if not wet or any(not parts for parts in lacking.values()):
        return None
    if not systems:
        none = say("no product on sale for the wet floor belongs to a system")
        return Gap(wet[0][0].role, "no_system", none)
    nearest = min(systems, key=lambda s: (len(lacking[s]), s))
    told = listed((_lacks(system, lacking[system]) for system in systems), "; ")
    what = say("no system has every part that was asked for: {told}", told=told)
    return Gap(lacking[nearest][0], "no_system", what)


def _lacks(system: str, roles: Iterable[str]) -> Sentence:
    parts = listed(say("{role:role}", role=role) for role in roles)
    return say("{system} has no fitting {parts}", system=system, parts=parts)


def _lacking(system: str, wet: Iterable[tuple[Need, Sequence[Product]]]) -> list[str]:
    """The roles in which the system has nothing to offer for some need, each once."""
    return list(dict.fromkeys(need.role for need, found in wet if all(p.system != system for p in found)))
