"""Setting the tile: tiles to buy, setting and cutting work, and the wait before grouting."""

from __future__ import annotations

from dataclasses import astuple, fields, replace
from math import ceil, remainder

from service.takeoff.answer import Cuts, Fitness, Layout, Material, Reason, Step, Wait, Work
from service.takeoff.factors import Factor
from service.takeoff.geometry import FloorShape
from service.takeoff.merge import shares_of
from service.takeoff.room import Room, Tile
from service.takeoff.sections import main_direction
from service.takeoff.size_checks import heaviest_kg
from service.trade.values import TradeValues

QUARTER_TURN = 90.0
ALONG = 0.1
"""Courses run along a wall within so many degrees: rooms are measured to the millimetre, and one in a metre
is 0.06 degrees."""
NOISE = 1e-9  # a share of whole tiles that comes out whole stays whole


def take(room: Room, shape: FloorShape, layout: Layout, values: TradeValues) -> Step:
    """Tiles [piece], setting and cleaning [m2], cuts by kind, and the wait before grouting [h].

    `required` is the layout's own count; breakage stands beside it in the reasons. The stock kept for
    repairs belongs to the tile, not to a room: `with_attic_stock` adds it when the rooms are added up.
    """
    area = layout.bedded_area_m2(room.joint)
    factors = setting_factors(room, shape, area, values)
    setting = Work(size_class(room.tile, values), "area", area, "m2", factors)
    cleaning = Work("final_clean", "area", area, "m2")
    return Step(
        materials=(_tiles(room, layout, values),),
        work=(setting, *cutting(layout.cuts, room.tile), cleaning),
        waits=(_grout_wait(room, values),),
    )


def with_attic_stock(material: Material, values: TradeValues) -> Material:
    """The tiles [piece] of all rooms with the share kept for repairs, never under a least number."""
    share = values.number("setting.attic_stock")
    least = values.number("setting.attic_stock_least")
    stock = max(ceil(share * material.required - NOISE), ceil(least))
    reason = Reason(f"kept for repairs: {share:.1%}, at least {least:.0f} tiles", stock)
    kept = replace(material, with_allowance=stock, rooms=(), by_room=())
    return replace(
        material,
        with_allowance=material.with_allowance + stock,
        reasons=(*material.reasons, reason),
        by_room=shares_of((material, kept)),
    )


def size_class(tile: Tile, values: TradeValues) -> str:
    """The setting activity of this size: panels by face, planks by form, others by longest edge."""
    longest = tile.longest_edge
    if face_m2(tile) >= values.number("setting.panel_area"):
        return "set_panel"
    long_enough = longest >= values.number("setting.plank_length")
    if long_enough and longest >= values.number("setting.plank_ratio") * tile.shortest_edge:
        return "set_plank"
    classes = values.table("setting.size_classes")
    return str(next(row["activity"] for row in classes if longest <= row["longest_up_to"]))


def setting_factors(room: Room, shape: FloorShape, area_m2: float, values: TradeValues) -> tuple[Factor, ...]:
    """How much longer a square metre takes than plain ceramic in an ordinary room: pattern, tile, room."""
    return (
        pattern_factor(room, shape, values),
        _factor("material", f"setting.material_factor.{room.tile.material}", room.tile.material, values),
        room_factor(area_m2, values),
        *lifting_factor(room, values),
    )


def pattern_factor(room: Room, shape: FloorShape, values: TradeValues) -> Factor:
    """The factor of the pattern, or of laying askew to the walls where that is the harder."""
    askew = askew_by(room, shape) > ALONG
    laid = (room.pattern.kind, "diagonal") if askew else (room.pattern.kind,)
    factors = [_factor("pattern", f"setting.pattern_factor.{kind}", kind, values) for kind in laid]
    return max(factors, key=lambda each: each.factor)


def _factor(name: str, key: str, of: str, values: TradeValues) -> Factor:
    return Factor(name, values.number(key), of.replace("_", " "), values.citation(key), of)


def askew_by(room: Room, shape: FloorShape) -> float:
    """The angle between the tile's sides and the longest wall, or edge where none is a wall [0 to 45 deg]."""
    return abs(remainder(room.pattern.rotation - main_direction(shape), QUARTER_TURN))


def room_factor(area_m2: float, values: TradeValues) -> Factor:
    """The factor of a small or large room.

    It takes hold by degrees, so that a smaller room never takes longer than a larger one: below the
    small room's area the hours stay those of that area until the factor is reached; above the large
    room's area likewise.
    """
    small, large = values.number("setting.small_room_area"), values.number("setting.large_room_area")
    if area_m2 < small:
        most = values.number("setting.small_room_factor")
        factor = most if area_m2 * most <= small else small / area_m2
        return _of_room(factor, f"small room: {area_m2:.1f} m2, under {small:g} m2", "small", values)
    if area_m2 > large:
        factor = max(values.number("setting.large_room_factor"), large / area_m2)
        return _of_room(factor, f"large room: {area_m2:.1f} m2, over {large:g} m2", "large", values)
    return Factor("room", 1.0, "ordinary room")


def lifting_factor(room: Room, values: TradeValues) -> tuple[Factor, ...]:
    """Tile too heavy for one person is set by two; the rate of panels has both in it already."""
    weight, key = heaviest_kg(room, values), "setting.two_people_factor"
    if weight <= values.number("checks.one_person_lift") or size_class(room.tile, values) == "set_panel":
        return ()
    reason = f"two people set tile of {weight:.0f} kg"
    return (Factor("lifting", values.number(key), reason, values.citation(key), "two people"),)


def _of_room(factor: float, reason: str, size: str, values: TradeValues) -> Factor:
    return Factor("room", factor, reason, values.citation(f"setting.{size}_room_factor"))


def face_m2(tile: Tile) -> float:
    """The face of a tile [m2]."""
    return tile.length * tile.width / 1e6


def _tiles(room: Room, layout: Layout, values: TradeValues) -> Material:
    share = values.number("setting.breakage") if layout.laid_out else 0.0
    needed, breakage = layout.tiles_needed, ceil(share * layout.tiles_needed - NOISE)
    counted = Reason("laid out, offcuts used again" if layout.laid_out else "allowance by area", needed)
    broken = (Reason(f"breakage: {share:.1%}", breakage),) if breakage else ()
    return Material(
        role="tile",
        unit="piece",
        required=needed,
        with_allowance=needed + breakage,
        reasons=(counted, *broken),
        fitness=() if room.tile.product else _of_size(room.tile, values),
        product=room.tile.product,
        rooms=(room.name,),
        piece_m2=face_m2(room.tile),
    )


def _of_size(tile: Tile, values: TradeValues) -> tuple[Fitness, ...]:
    slack = values.number("setting.size_tolerance")
    sizes = (("length_mm", tile.length), ("width_mm", tile.width), ("thickness_mm", tile.thickness))
    measured = (Fitness(name, at_least=size - slack, at_most=size + slack) for name, size in sizes)
    return (*measured, Fitness("material", one_of=(tile.material,)))


def cutting(cuts: Cuts, tile: Tile) -> tuple[Work, ...]:
    """Cuts as work, by their kind; a table may have rates of its own for a material."""
    material = Factor("material", 1.0, tile.material, of=tile.material)
    counted = zip((f.name for f in fields(cuts)), astuple(cuts), strict=True)
    return tuple(Work(f"cut_{kind}", "cuts", count, "cut", (material,)) for kind, count in counted if count)


def _grout_wait(room: Room, values: TradeValues) -> Wait:
    tile = room.tile
    large = tile.longest_edge >= values.number("setting.large_format_edge")
    slow = large and tile.material == "porcelain" and room.membrane is not None
    key = "setting.grout_after_large_porcelain" if slow else "setting.grout_after"
    return Wait("setting", values.number(key), values.citation(key))
