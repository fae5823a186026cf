"""A ballpark from the answers given: the range, what is in it, what would narrow it, what to mind."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from service.ballpark.answers import Answers
from service.quoting.ballparks.desk import KeptModel
from service.quoting.ballparks.engine import USUAL

INCLUDES = {
    "tile": "The tile, at the price that the office allows for one that is not chosen yet.",
    "uncoupling_membrane": "The uncoupling membrane with its mortar.",
    "setting_and_grouting": "Mortar, grout and sealed joints; cutting, laying and grouting.",
    "profiles": "Profiles in doorways.",
    "levelling": "Levelling as the drawn rooms needed it.",
    "delivery": "Delivery, and carrying in.",
    "waterproofing": "Sealing bands, corner pieces and seals around pipes and drains of the wet floor.",
    "removal": "Taking up and disposing of the old floor.",
    "heating_cable": "The heating cable; its connection is an electrician's.",
}
ALWAYS = ("tile", "uncoupling_membrane", "setting_and_grouting", "profiles", "levelling", "delivery")
CAUTIONS = {
    "not_an_offer": "A ballpark and no offer: the office prices the floor once it has been measured.",
    "what_the_range_means": (
        "Nine in ten of rooms drawn at random and priced by the rules of a full quote lie in this range. "
        "That is a claim about those rules, not about jobs that were done."
    ),
    "not_included": (
        "Skirting, furniture, doors, plumbing and work on the structure are not in it, "
        "nor are walls, stairs, terraces and balconies."
    ),
    "makers_and_codes": (
        "A licensed practice, the local code and the membrane maker's written instructions stand above it."
    ),
    "size_beyond_drawn": "The floor is smaller or larger than the rooms that the range was learnt from.",
    "region_not_held": "The office holds no taxes of its own for this region; its usual ones are counted.",
    "electrician": "Connecting electric heating is a licensed electrician's work.",
    "old_floor": (
        "An old floor may hold asbestos: it must not be broken, sanded or torn up before that is known."
    ),
}
COMMON = ("not_an_offer", "what_the_range_means", "not_included", "makers_and_codes")
SUSPECT_COVERINGS = ("resilient", "tile")


@dataclass(frozen=True, slots=True)
class Ballpark:
    """Gross prices in whole units of the currency, low rounded down and high up."""

    low: Decimal
    likely: Decimal
    high: Decimal
    currency: str
    price_date: date
    width_percent: float
    includes: tuple[str, ...]
    cautions: tuple[str, ...]
    ask_next: str | None
    narrows_to_percent: float | None


def ballpark(said: Answers, region: str | None, models: Mapping[str, KeptModel]) -> Ballpark:
    """KeyError where no model is fitted."""
    known = region in models
    kept = models[region if known and region is not None else USUAL]
    found = kept.model.range(said)
    following = kept.model.ask_next(said)
    return Ballpark(
        low=Decimal(math.floor(found.low)),
        likely=Decimal(round(found.likely)),
        high=Decimal(math.ceil(found.high)),
        currency=kept.currency,
        price_date=kept.price_date,
        width_percent=round(100 * found.width, 1),
        includes=_includes(said),
        cautions=_cautions(said, region is None or known, kept.model.drawn(said)),
        ask_next=following[0] if following else None,
        narrows_to_percent=round(100 * following[1], 1) if following else None,
    )


def _includes(said: Answers) -> tuple[str, ...]:
    more = {
        "waterproofing": said.exposure == "wet",
        "removal": said.existing_covering not in (None, "none"),
        "heating_cable": said.heating == "electric",
    }
    return (*ALWAYS, *(name for name, yes in more.items() if yes))


def _cautions(said: Answers, region_held: bool, drawn: bool) -> tuple[str, ...]:
    more = {
        "size_beyond_drawn": not drawn,
        "region_not_held": not region_held,
        "electrician": said.heating == "electric",
        "old_floor": said.existing_covering in SUSPECT_COVERINGS,
    }
    return (*COMMON, *(name for name, yes in more.items() if yes))
