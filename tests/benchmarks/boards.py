"""
Boards and shapes for the benchmarks, made from a seed: no data files, no real board.

Lengths are millimetres.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass

from salvage.geometry.ground import Ground, ground_of_board
from salvage.geometry.ledger import Taken
from salvage.geometry.outline import centre, circle, rectangle, region_of_mm
from salvage.geometry.placing import Placement, place
from salvage.geometry.shapes import built_in_shape
from salvage.records.region import Region

KERF_MM = 2.0

# Round figures across the range that comes in as cards and main boards.
SIZES_MM = (
    (90, 55),
    (120, 80),
    (160, 100),
    (175, 107),
    (170, 170),
    (200, 120),
    (226, 170),
    (244, 244),
    (280, 210),
    (305, 244),
)


@dataclass(frozen=True, slots=True)
class MadeBoard:
    """
    A made board.

    Args:
        outline: Its edge with mounting holes.
        taken: Keep-outs and earlier cuts.
    """

    outline: Region
    taken: tuple[Taken, ...]

    def ground(self) -> Ground:
        """Where a piece may lie."""
        return ground_of_board(self.outline, self.taken, kerf_mm=KERF_MM)


def make_board(seed: int) -> MadeBoard:
    """A board with holes, a row of connectors, some keep-outs; every second one partly cut."""
    rng = random.Random(f"board {seed}")
    width, height = rng.choice(SIZES_MM)
    outline = _drill(rng, rectangle(width, height, corner_mm=rng.choice((0.0, 3.0))))
    taken = [_connectors(rng, width, height)]
    for number in range(rng.randint(0, 12)):
        size = rng.uniform(4, 25), rng.uniform(4, 25)
        spot = Placement(round(rng.uniform(0, width) * 1000), round(rng.uniform(0, height) * 1000))
        taken.append(Taken("keep-out", f"part {number}", place(centre(rectangle(*size)), spot)))
    if seed % 2:
        taken += _cuts(rng, width, height)
    return MadeBoard(outline, tuple(taken))


def make_cut(rng: random.Random, width: float, height: float, *, label: str) -> Taken:
    """A cut of some shape anywhere on a board."""
    shape = rng.choice(_CUT_SHAPES)
    spot = Placement(
        round(rng.uniform(0, width) * 1000),
        round(rng.uniform(0, height) * 1000),
        rng.randrange(360_000),
        rng.random() < 0.5,
    )
    return Taken("cut", label, place(shape, spot), 2000)


def _drill(rng: random.Random, board: Region) -> Region:
    width, height = board.size_mm
    places = [(x, y) for x in (6, width / 2, width - 6) for y in (6, height - 6)]
    chosen = rng.sample(places, rng.randint(2, len(places)))
    holes = tuple(
        place(circle(4.2), Placement(round(x * 1000), round(y * 1000))).outer[::-1]
        for x, y in chosen
    )
    return Region(board.outer, holes)


def _connectors(rng: random.Random, width: float, height: float) -> Taken:
    long = width * rng.uniform(0.3, 0.7)
    bank = rectangle(long, min(22.0, height / 4))
    spot = Placement(round(rng.uniform(0, width - long) * 1000), round((height - 18) * 1000))
    return Taken("keep-out", "connectors", place(bank, spot))


def _cuts(rng: random.Random, width: float, height: float) -> list[Taken]:
    wanted = rng.uniform(0.1, 0.8) * width * height
    cuts: list[Taken] = []
    while sum(cut.region.area_mm2 for cut in cuts) < wanted and len(cuts) < 60:
        cuts.append(make_cut(rng, width, height, label=f"piece {len(cuts)}"))
    return cuts


def two_lobed(width_mm: float) -> Region:
    """A leaf pair: concave, one mirror axis, 48 corners."""
    ring = []
    for index in range(48):
        t = 2 * math.pi * index / 48
        x = 16 * math.sin(t) ** 3
        y = 13 * math.cos(t) - 5 * math.cos(2 * t) - 2 * math.cos(3 * t) - math.cos(4 * t)
        ring.append((x, y))
    return _scaled(ring, width_mm)


def star(width_mm: float) -> Region:
    """Five points."""
    ring = []
    for index in range(10):
        reach = 1.0 if index % 2 == 0 else 0.45
        angle = math.pi / 2 + index * math.pi / 5
        ring.append((reach * math.cos(angle), reach * math.sin(angle)))
    return _scaled(ring, width_mm)


def kite(width_mm: float) -> Region:
    """A kite with sharp corners."""
    return _scaled([(0, -1.1), (0.6, 0.2), (0, 0.7), (-0.6, 0.2)], width_mm)


def tern(width_mm: float) -> Region:
    """A bird with swept wings and a forked tail: thin, concave, no mirror axis."""
    ring = [
        (-50, 12), (-30, 18), (-8, 8), (4, 9), (14, 20), (40, 30), (56, 26), (34, 20), (22, 8),
        (30, 2), (26, -2), (14, -4), (-2, -6), (-20, -14), (-14, -6), (-24, -4), (-10, 0),
        (-30, 9),
    ]  # fmt: skip
    return _scaled([(float(x), float(y)) for x, y in ring], width_mm)


def lighthouse(width_mm: float) -> Region:
    """A tower on a foot."""
    ring = [
        (-10, 0), (10, 0), (10, 4), (7, 4), (5, 30), (7, 30), (7, 33), (4, 33), (4, 39), (0, 44),
        (-4, 39), (-4, 33), (-7, 33), (-7, 30), (-5, 30), (-7, 4), (-10, 4),
    ]  # fmt: skip
    return _scaled([(float(x), float(y)) for x, y in ring], width_mm)


def tide_bell(width_mm: float) -> Region:
    """A bell with a flared rim."""
    ring = [(-20, 0), (20, 0), (19, 4), (15, 9), (13, 18), (11, 28), (6, 34), (3, 35), (3, 39)]
    mirrored = [(-x, y) for x, y in reversed(ring[2:])]
    return _scaled([(float(x), float(y)) for x, y in (*ring, *mirrored)], width_mm)


def fern_leaf(width_mm: float) -> Region:
    """A leaf with many leaflets: 122 corners."""
    right = []
    for index in range(30):
        y = 2.0 * index + 4
        reach = 14 * (1 - index / 31) + 1.5
        right += [(1.6, y), (reach, y + 2.6 + reach / 6)]
    left = [(-x, y) for x, y in reversed(right)]
    return _scaled([(0.8, 0), *right, (0.0, 70.0), *left, (-0.8, 0)], width_mm)


def island(width_mm: float) -> Region:
    """The outline of an invented island: 466 corners, no symmetry."""
    rng = random.Random("island")
    waves = [(rng.uniform(-1, 1) / k**1.25, rng.uniform(0, 6.28), k) for k in range(1, 40)]
    ring = []
    for index in range(466):
        t = 2 * math.pi * index / 466
        reach = 3.0 + sum(a * math.cos(k * t + phase) for a, phase, k in waves)
        ring.append((1.4 * reach * math.cos(t), reach * math.sin(t)))
    return _scaled(ring, width_mm)


def _scaled(ring: list[tuple[float, float]], width_mm: float) -> Region:
    xs = [x for x, _ in ring]
    factor = width_mm / (max(xs) - min(xs))
    return centre(region_of_mm([(x * factor, y * factor) for x, y in ring]))


SHAPES: dict[str, Region] = {
    "round 30": circle(30),
    "round 75": circle(75),
    "two-lobed 25": two_lobed(25),
    "two-lobed 60": two_lobed(60),
    "star 70": star(70),
    "kite 45": kite(45),
    "tern 90": tern(90),
    "lighthouse 40": lighthouse(40),
    "tide bell 60": tide_bell(60),
    "fern leaf 40": fern_leaf(40),
    "island 80": island(80),
    "rounded tag 28": built_in_shape("rounded-tag", width_mm=28, height_mm=50),
    "oval 55": built_in_shape("oval", width_mm=55, height_mm=35),
    "tile 48": rectangle(48, 48),
}

_CUT_SHAPES = [two_lobed(45), star(50), tide_bell(40), circle(35), kite(40), lighthouse(25)]
