"""Rooms drawn from the written distributions, with what their owner would say of them."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from random import Random

from service.ballpark.answers import Answers
from service.ballpark.distributions import Distributions, KindOfRoom, distributions

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Door:
    wall: int
    offset: float
    width: float
    adjoining: str


@dataclass(frozen=True, slots=True)
class GeneratedRoom:
    """A room in all that its price depends on [mm, degrees], and its owner's full answers."""

    answers: Answers
    corners: tuple[Point, ...]
    doors: tuple[Door, ...]
    pipes: tuple[Point, ...]
    drain: Point | None
    tile: tuple[float, float]
    thickness: float
    joint: float
    gap: float
    substrate: str
    floor: int
    carry: float


def rooms(kind: str, count: int, seed: int) -> Iterator[GeneratedRoom]:
    """`count` rooms of a kind; the same seed gives the same rooms."""
    of = distributions()
    seeds = (f"{of.version}/{kind}/{seed}/{i}" for i in range(count))
    return (_room(of, of.kinds[kind], Random(own)) for own in seeds)  # noqa: S311 - nothing secret


def _room(of: Distributions, kind: KindOfRoom, random: Random) -> GeneratedRoom:
    corners = _corners(of, kind, random)
    size = of.words["tile_sizes"].draw(random)
    pattern = of.words["patterns"].draw(random)
    exposure = kind.exposures.draw(random)
    tiles = of.tiles[size]["herringbone" if pattern == "herringbone" else "even"]
    length, width = random.choice(tiles)
    drain = of.words["drains"].draw(random) if exposure == "wet" else "none"
    return GeneratedRoom(
        answers=Answers(
            **_rough_size(of, corners),
            room_kind=kind.name,
            exposure=exposure,
            tile_size=size,
            pattern=pattern,
            existing_covering=of.words["existing_coverings"].draw(random),
            heating=of.words["heatings"].draw(random),
            drain=drain,
            home=of.words["homes"].draw(random),
        ),
        corners=corners,
        doors=tuple(_doors(of, kind, corners, random)),
        pipes=tuple(_pipes(corners, random.randint(*kind.pipes), random)),
        drain=_drain(corners, random) if drain == "in_floor" else None,
        tile=(length, width),
        thickness=of.shapes["thickness_mm"][size],
        joint=of.shapes["joint_mm"][size],
        gap=round(of.gap_mm.draw(random), 1),
        substrate=of.words["substrates"].draw(random),
        floor=int(of.words["floors"].draw(random)),
        carry=random.uniform(*of.any["carry_mm"]),
    )


def _corners(of: Distributions, kind: KindOfRoom, random: Random) -> tuple[Point, ...]:
    """A rectangle, an L, either with a pier in its first wall; scaled so that its area is as drawn."""
    ratio, area = kind.ratio.draw(random), kind.area_m2.draw(random) * 1e6
    width = math.sqrt(area / ratio)
    corners = [(0.0, 0.0), (ratio * width, 0.0), (ratio * width, width), (0.0, width)]
    if random.random() < kind.l_shaped:
        x, y = (1 - random.uniform(*of.shapes["l_share"]) for _ in range(2))
        corners[2:3] = [
            (ratio * width, y * width),
            (x * ratio * width, y * width),
            (x * ratio * width, width),
        ]
    scale = math.sqrt(area / _area(corners))
    corners = [(scale * x, scale * y) for x, y in corners]
    if random.random() < kind.pier:
        corners[1:1] = _pier(of, corners[1][0], corners[-1][1], random)
    step = of.shapes["grid_mm"]
    return tuple((step * round(x / step), step * round(y / step)) for x, y in corners)


def _pier(of: Distributions, length: float, width: float, random: Random) -> list[Point]:
    deep, wide = (random.uniform(*of.shapes["pier_mm"]) for _ in range(2))
    deep, wide = min(deep, 0.4 * width), min(wide, 0.5 * length)
    at = random.uniform(0.1, 0.9) * (length - wide)
    return [(at, 0.0), (at, deep), (at + wide, deep), (at + wide, 0.0)]


def _doors(of: Distributions, kind: KindOfRoom, corners: tuple[Point, ...], random: Random) -> Iterator[Door]:
    """In walls drawn by their length, one a wall; a wall too short for it gets none."""
    clear = of.shapes["door_clear_mm"]
    walls = [math.dist(a, b) for a, b in zip(corners, (*corners[1:], corners[0]), strict=True)]
    for _ in range(int(kind.doorways.draw(random))):
        wall = random.choices(range(len(walls)), walls)[0]
        width = 10 * round(random.uniform(*of.any["doorway_width_mm"]) / 10)
        if walls[wall] >= width + 2 * clear:
            offset = 10 * round(random.uniform(clear, walls[wall] - width - clear) / 10)
            yield Door(wall, offset, width, of.words["adjoining"].draw(random))
            walls[wall] = 0.0
        if not any(walls):
            return


def _pipes(corners: tuple[Point, ...], count: int, random: Random) -> Iterator[Point]:
    """A row in the upper left quarter, which neither an L's cut nor a pier reaches."""
    length, width = _outer(corners)
    y = random.uniform(0.7, 0.9) * width
    yield from (((0.1 + 0.4 * (i + 0.3 * random.random()) / count) * length, y) for i in range(count))


def _drain(corners: tuple[Point, ...], random: Random) -> Point:
    """Below the pipes, above a pier."""
    length, width = _outer(corners)
    return random.uniform(0.15, 0.45) * length, random.uniform(0.47, 0.55) * width


def _outer(corners: tuple[Point, ...]) -> Point:
    return max(x for x, _ in corners), max(y for _, y in corners)


def _area(corners: list[Point] | tuple[Point, ...]) -> float:
    pairs = zip(corners, (*corners[1:], corners[0]), strict=True)
    return abs(math.fsum(a[0] * b[1] - b[0] * a[1] for a, b in pairs)) / 2


def _rough_size(of: Distributions, corners: tuple[Point, ...]) -> dict[str, float]:
    """The floor as its owner would measure it: area and outer lengths, rounded."""
    step, fine = of.shapes["rough_mm"], of.shapes["rough_m2"]
    length, width = _outer(corners)
    return {
        "area_m2": fine * round(_area(corners) / 1e6 / fine),
        "length": step * round(length / step),
        "width": step * round(width / step),
    }
