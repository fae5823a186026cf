"""A room with a merge patch on it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from service.api.framework.patch import merged
from service.api.schemas.room import RoomSchema

MAY_BE_NULL = frozenset(name for name, field in RoomSchema().fields.items() if field.allow_none)


def changed_room(room: Mapping[str, Any], changes: Mapping[str, Any]) -> dict[str, Any]:
    """The room as sent, with the changes as RFC 7396 has them, but for null where a room may say null.

    A tile told by product takes the place of one told by measures, and the other way round.
    """
    made = dict(room)
    for name, change in changes.items():
        if change is None and name not in MAY_BE_NULL:
            made.pop(name, None)
        else:
            made[name] = (
                _another_tile(made.get(name), change) if name == "tile" else merged(made.get(name), change)
            )
    return made


def _another_tile(tile: Any, change: Any) -> Any:
    if not isinstance(tile, Mapping) or not isinstance(change, Mapping):
        return change
    by_product, told_by_product = "product" in change, "product" in tile
    other = by_product != told_by_product and bool(change.keys() & {"product", "length", "width"})
    return merged({} if other else tile, change)
