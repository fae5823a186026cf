"""The tile that a product is."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Any, cast, get_args
from uuid import UUID

from sqlalchemy.orm import Session

from service.store import rows
from service.store.models import ProductRow
from service.takeoff.room import Tile, TileMaterial

MEASURES = ("length_mm", "width_mm", "thickness_mm")


def tile_of(session: Session) -> Callable[[str], Tile | None]:
    """A look-up from product ids to tiles, each read once; None for what the organisation does not have or is
    no tile."""

    @cache
    def find(product: str) -> Tile | None:
        row = rows.find(session, ProductRow, UUID(product)) if _is_id(product) else None
        return None if row is None else tile_from(row)

    return find


def tile_from(row: ProductRow) -> Tile | None:
    """The tile that a product states to be, or None where its measures are not all stated."""
    stated: dict[str, Any] = row.attributes
    if row.role != "tile" or not all(isinstance(stated.get(name), int | float) for name in MEASURES):
        return None
    length, width, thickness = (float(stated[name]) for name in MEASURES)
    known = stated.get("material") in get_args(TileMaterial)
    material = _material(stated.get("material"))
    return Tile(
        length, width, thickness, material, product=str(row.id), assumed=() if known else ("material",)
    )


def _material(stated: object) -> TileMaterial:
    """Porcelain where the product does not say: the setting that asks most of the mortar."""
    return cast(TileMaterial, stated) if stated in get_args(TileMaterial) else "porcelain"


def _is_id(text: str) -> bool:
    try:
        UUID(text)
    except ValueError:
        return False
    return True
