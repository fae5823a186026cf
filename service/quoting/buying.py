"""How the goods of a quote are bought: as its request says, in the rest as its terms do."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from service.pricing.buying import Buying
from service.pricing.model import Terms
from service.quoting.catalogue import UnknownReference
from service.store import rows
from service.store.models import Supplier


def check_suppliers(session: Session, asked: Mapping[str, Any]) -> None:
    """UnknownReference for a preferred supplier that the organisation has not."""
    for place, supplier in enumerate(asked.get("preferred", ())):
        if rows.find(session, Supplier, UUID(str(supplier))) is None:
            raise UnknownReference(f"/buying/preferred/{place}", "No such supplier.")


def buying_for(session: Session, asked: Mapping[str, Any], terms: Terms) -> Buying:
    """UnknownReference for a supplier that does not exist, and where only preferred ones are asked and none
    is named."""
    check_suppliers(session, asked)
    given = {**asked}
    if "preferred" in asked:
        given["preferred"] = tuple(dict.fromkeys(map(str, asked["preferred"])))
    buying = replace(terms.buying, **given)
    if buying.mode == "preferred_only" and not buying.preferred:
        raise UnknownReference("/buying/preferred", "Name the suppliers that may be bought from.")
    return buying
