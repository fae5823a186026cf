"""Which product serves each need: the office's choice, else the cheapest that fits."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from service.pricing.cut_to_length import lengths_of, same_cutting
from service.pricing.fit import fits, wanted
from service.pricing.market import Market, Purchase
from service.pricing.model import Gap, Need, Product


@dataclass(frozen=True, slots=True)
class Chosen:
    """A need and the product that serves it."""

    need: Need
    product: Product


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
    )


def candidates(need: Need, market: Market) -> list[Product] | Gap:
    """The products on sale that could serve the need, or why there is none."""
    if need.product is not None:
        return _office_choice(need, need.product, market)
    known = market.of_role(need.role)
    fitting = [product for product in known if fits(product, need)]
    sold = [product for product in fitting if market.sold(product)]
    if known and not fitting:
        what = f"no {need.role} counted in {need.unit} fits; wanted {wanted(need.conditions)}"
        return Gap(need.role, "no_fit", what)
    return sold or Gap(need.role, "no_supplier", f"no supplier sells a fitting {need.role} on the price date")


def _office_choice(need: Need, id_: str, market: Market) -> list[Product] | Gap:
    product = market.product(id_)
    if product is None:
        return Gap(need.role, "unknown_product", f"product {id_} is not known")
    if not fits(product, need):
        asked = f"{need.role} counted in {need.unit}; wanted {wanted(need.conditions)}"
        what = f"{product.name} is no fitting {asked}"
        return Gap(need.role, "no_fit", what)
    if not market.sold(product):
        what = f"no supplier sells {product.name} ({need.role}) on the price date"
        return Gap(need.role, "no_supplier", what)
    return [product]


def cheapest(need: Need, products: Iterable[Product], market: Market) -> Purchase:
    """The product that costs least for this need alone, in whole packs and before delivery."""
    purchases = (market.cheapest(p, need.quantity, need.lengths) for p in products)
    return min(purchases, key=lambda purchase: purchase.rank)


def choose(needs: Sequence[Need], market: Market) -> list[Chosen | Gap]:
    """A product or a gap for each need, in the order of the needs; needs of one system are met by one."""
    found = [candidates(need, market) for need in needs]
    jointly = [i for i, need in enumerate(needs) if need.one_system]
    system: str | Gap | None = None
    if jointly and not any(isinstance(found[i], Gap) for i in jointly):
        system = choose_system([needs[i] for i in jointly], [_products(found[i]) for i in jointly], market)
    answer: list[Chosen | Gap] = []
    for need, products in zip(needs, found, strict=True):
        if isinstance(products, Gap):
            answer.append(products)
        elif not (need.one_system and isinstance(system, Gap)):
            of_system = [p for p in products if not need.one_system or system in (None, p.system)]
            answer.append(Chosen(need, cheapest(need, of_system, market).product))
    return [*answer, system] if isinstance(system, Gap) else answer


def _products(found: list[Product] | Gap) -> list[Product]:
    return [] if isinstance(found, Gap) else found


def choose_system(needs: Sequence[Need], products: Sequence[list[Product]], market: Market) -> str | Gap:
    """The system that meets all the needs at the least sum; ties by its name."""
    systems = sorted({p.system for of_need in products for p in of_need if p.system is not None})
    lacking = {s: _lacking(s, needs, products) for s in systems}
    complete = [s for s in systems if not lacking[s]]
    if complete:
        return min(complete, key=lambda s: (_system_cost(s, needs, products, market), s))
    if not systems:
        return Gap(needs[0].role, "no_system", "no product on sale for the wet floor belongs to a system")
    nearest = min(systems, key=lambda s: (len(lacking[s]), s))
    told = "; ".join(f"{s} has no fitting {', '.join(lacking[s])}" for s in systems)
    return Gap(lacking[nearest][0], "no_system", f"no system has every part that was asked for: {told}")


def _lacking(system: str, needs: Sequence[Need], products: Sequence[list[Product]]) -> list[str]:
    """The roles in which the system has nothing to offer for some need, each once."""
    pairs = zip(needs, products, strict=True)
    return list(dict.fromkeys(n.role for n, of_need in pairs if all(p.system != system for p in of_need)))


def _system_cost(
    system: str, needs: Sequence[Need], products: Sequence[list[Product]], market: Market
) -> Decimal:
    return sum(
        (
            cheapest(need, [p for p in of_need if p.system == system], market).mix.cost
            for need, of_need in zip(needs, products, strict=True)
        ),
        Decimal(0),
    )
