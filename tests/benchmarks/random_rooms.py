"""Seeded random rooms, right-angled and oblique, that the tables of the benchmarks are reckoned from.

Right-angled: one to three overlapping rectangles with sides of 1.0 to 5.0 m on a grid of 10 mm, one in four
with a column of 200 to 600 mm. Oblique: five to eight points at 1.0 to 3.2 m around a middle, or (one in
three) a right-angled room with its tile laid at 45 degrees. Tile, bond, joints, start and saw are drawn
from the lists below.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from fractions import Fraction
from random import Random

from shapely import Polygon, box, union_all

from service.takeoff.room import Outline, Pattern, Room, Saw, Tile
from tests.takeoff.outlines import outline_of

SIZES = ((300, 300), (600, 600), (600, 300), (450, 450), (200, 200), (1200, 200))
OFFSETS = (Fraction(0), Fraction(0), Fraction(1, 2), Fraction(1, 3))
JOINTS, PERIMETERS = (2.0, 3.0, 5.0), (5.0, 6.0, 10.0)


def rectilinear_rooms(count: int, seed: int = 1) -> Iterator[Room]:
    random = Random(seed)
    return (_room(f"rectilinear {i}", _rectilinear(random), random) for i in range(count))


def oblique_rooms(count: int, seed: int = 2) -> Iterator[Room]:
    random = Random(seed)
    for i in range(count):
        if random.random() < 1 / 3:
            yield _room(f"oblique {i}", _rectilinear(random), random, rotation=45.0)
        else:
            yield _room(f"oblique {i}", _star(random), random)


def _room(name: str, outline: Outline, random: Random, rotation: float = 0.0) -> Room:
    offset = random.choice(OFFSETS)
    return Room(
        name,
        outline,
        Tile(*random.choice(SIZES)),
        pattern=Pattern("running_bond" if offset else "stack_bond", offset, rotation),
        origin=random.choice(("best", "corner")),
        joint=random.choice(JOINTS),
        perimeter_joint=random.choice(PERIMETERS),
        saw=Saw(2.0, sawn_edges_at_joints=random.random() < 1 / 5),
    )


def _rectilinear(random: Random) -> Outline:
    shape = box(0, 0, _side(random), _side(random))
    for _ in range(random.randrange(3)):
        length, width = shape.bounds[2:]
        x, y = (10 * random.randrange(int(side // 10)) for side in (length, width))
        grown = union_all([shape, box(x, y, x + _side(random), y + _side(random))])
        shape = grown if isinstance(grown, Polygon) else shape
    if random.random() < 1 / 4:
        middle, half = shape.representative_point(), 10 * random.randint(10, 30)
        x, y = (10 * round(c / 10) for c in (middle.x, middle.y))
        column = box(x - half, y - half, x + half, y + half)
        shape = shape.difference(column) if shape.buffer(-100).contains(column) else shape
    return outline_of(shape.simplify(0))


def _side(random: Random) -> int:
    return 10 * random.randint(100, 500)


def _star(random: Random) -> Outline:
    count = random.randint(5, 8)
    turn = random.random()
    points = [
        (r * math.cos(2 * math.pi * (i + turn) / count), r * math.sin(2 * math.pi * (i + turn) / count))
        for i, r in enumerate(random.randint(1000, 3200) for _ in range(count))
    ]
    return outline_of(Polygon([(round(x, 1), round(y, 1)) for x, y in points]))
