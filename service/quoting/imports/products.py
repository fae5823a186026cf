"""Products that a price file names and the office does not have yet."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy.orm import Session

from service.pricing.roles import UNIT_OF_ROLE
from service.store import price_imports as store

MEASURED = frozenset({"tile"})
"""Roles whose products state measures that no price file has; they are stored before their prices."""


def add_unknown(session: Session) -> None:
    """Store the unknown products whose rows say role and unit; the others stay unknown."""
    unknown = store.unknown_products(session)
    store.add_products(session, [_product(row) for row in unknown if _complete(row)])


def _complete(row: Mapping[str, Any]) -> bool:
    role = row["role"]
    return role not in MEASURED and row["unit"] is not None and UNIT_OF_ROLE.get(role) == row["unit"]


def _product(row: Mapping[str, Any]) -> dict[str, Any]:
    kept = {name: row[name] for name in ("role", "code", "unit", "weight_kg")}
    return {**kept, "name": row["name"] or row["code"]}
