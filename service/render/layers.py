"""The layers of a plan: which group belongs to which, so that a front end can switch them."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Literal, get_args
from xml.etree.ElementTree import Element

Layer = Literal[
    "walls",
    "tiles",
    "cuts",
    "piece-ids",
    "folds",
    "movement-joints",
    "membrane-seams",
    "obstructions",
    "doorways",
    "setting-out",
    "dimensions",
    "block",
]
LAYERS: tuple[Layer, ...] = get_args(Layer)

LAYER_OF: Mapping[str, Layer] = {
    "walls": "walls",
    "floor": "walls",
    "wall-lines": "walls",
    "open-edges": "walls",
    "tiles": "tiles",
    "cuts": "cuts",
    "piece-ids": "piece-ids",
    "folds": "folds",
    "movement-joints": "movement-joints",
    "membrane-seams": "membrane-seams",
    "obstructions": "obstructions",
    "obstruction-words": "obstructions",
    "doorways": "doorways",
    "doorway-words": "doorways",
    "origin": "setting-out",
    "dimensions": "dimensions",
    "dimension-words": "dimensions",
    "frame": "block",
    "title": "block",
    "legend": "block",
    "scale-bar": "block",
}
"""The layer of each group by the group's id. Groups keep their order, which is that of drawing."""


def layered(root: Element, wanted: Collection[str]) -> Element:
    """`root` with the groups of the layers wanted, each marked by `data-layer`."""
    for group in [child for child in root if child.tag == "g"]:
        layer = LAYER_OF[group.attrib["id"]]
        group.set("data-layer", layer)
        if layer not in wanted:
            root.remove(group)
    return root
