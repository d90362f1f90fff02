"""
Seeded boards whose true outline, holes and traces are known, for photos drawn by the benchmark.

Board coordinates in millimetres: front as seen, origin at the lower left of the bounding box.
No real product is copied: sizes, colours and places come from the seed alone.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, TypeAlias

from tests.benchmarks.photo_traces import Artwork, Part, draw_artwork

if TYPE_CHECKING:
    from shapely import Polygon
    from shapely.geometry.base import BaseGeometry

Colour: TypeAlias = tuple[int, int, int]
Place: TypeAlias = tuple[float, float]
Ring: TypeAlias = tuple[Place, ...]

MASKS: dict[str, tuple[Colour, Colour]] = {
    "green": ((18, 70, 40), (40, 112, 62)),
    "blue": ((16, 38, 96), (36, 74, 150)),
    "red": ((112, 20, 22), (168, 42, 38)),
    "black": ((22, 22, 24), (44, 44, 47)),
    "white": ((206, 208, 204), (230, 231, 228)),
    "yellow": ((170, 138, 24), (204, 176, 52)),
    "purple": ((58, 24, 84), (92, 46, 126)),
}
"""Solder mask over bare laminate, and over copper: red, green, blue."""

RARE_MASKS: dict[str, tuple[Colour, Colour]] = {"pink": ((222, 18, 150), (250, 40, 190))}
"""Never drawn by lot: a board that looks like the mat."""

SHAPES = ("plain", "rounded", "notched", "ell", "cutaway", "fingers", "chamfered", "strip")

# Half a millimetre of laminate always stays between two holes, and 1.5 mm to the rim.
_HOLE_TO_RIM_MM = 1.5


@dataclass(frozen=True, slots=True)
class Hole:
    """A round hole, plated or not: centre and diameter in millimetres."""

    x: float
    y: float
    diameter: float

    def ring(self, *, sides: int = 48) -> Ring:
        """The hole as a polygon of the same area, counter-clockwise."""
        turn = 2 * math.pi / sides
        # A polygon through the circle's points is a little too small; this mends its area.
        radius = self.diameter / 2 * math.sqrt(turn / math.sin(turn))
        return tuple(
            (self.x + radius * math.cos(i * turn), self.y + radius * math.sin(i * turn))
            for i in range(sides)
        )


@dataclass(frozen=True, slots=True)
class BoardLayout:
    """
    One side of one board.

    Args:
        seed: Makes the same board again.
        mask: A key of :data:`MASKS`.
        shape: One of :data:`SHAPES`.
        outer: True outer ring, counter-clockwise.
        holes: Mounting holes of 2.0 mm and more.
        slots: Convex slots milled right through, counter-clockwise.
        drills: Small holes for leads, up to 1.3 mm.
        artwork: Traces, pads, silk and where chips stood.
        parts: Components still on it; empty on a bare board.
        thickness_mm: Laminate.
    """

    seed: int
    mask: str
    shape: str
    outer: Ring
    holes: tuple[Hole, ...]
    slots: tuple[Ring, ...]
    drills: tuple[Hole, ...]
    artwork: Artwork
    parts: tuple[Part, ...]
    thickness_mm: float

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height of the bounding box."""
        return max(x for x, _ in self.outer), max(y for _, y in self.outer)

    @property
    def openings(self) -> tuple[Ring, ...]:
        """Rings of mounting holes, then slots: what a record of the board must show."""
        return (*(hole.ring() for hole in self.holes), *self.slots)

    def polygon(self) -> Polygon:
        """The board's face, without the holes for leads."""
        from shapely import Polygon

        return Polygon(self.outer, self.openings)

    def back(self) -> BoardLayout:
        """The other side of the same board as seen when it is turned over left to right."""
        width, height = self.size_mm
        dice = random.Random(f"back {self.seed}")
        artwork = draw_artwork(dice, width, height)

        def turned(ring: Ring) -> Ring:
            return tuple((width - x, y) for x, y in reversed(ring))

        def moved(holes: tuple[Hole, ...]) -> tuple[Hole, ...]:
            return tuple(Hole(width - hole.x, hole.y, hole.diameter) for hole in holes)

        return replace(
            self,
            outer=turned(self.outer),
            holes=moved(self.holes),
            slots=tuple(turned(slot) for slot in self.slots),
            drills=moved(self.drills),
            artwork=replace(artwork, pads=(*artwork.pads, *_rings_round(moved(self.drills)))),
            parts=(),
        )


def make_layout(
    seed: int, *, shape: str = "", mask: str = "", populated: bool | None = None
) -> BoardLayout:
    """
    A board from a seed.

    Args:
        seed: Any whole number.
        shape: One of :data:`SHAPES`; drawn by lot when empty.
        mask: A key of :data:`MASKS` or :data:`RARE_MASKS`; drawn by lot when empty.
        populated: Whether parts are still on it; drawn by lot when not given.
    """
    dice = random.Random(f"layout {seed}")
    # Each lot is drawn whether or not it is needed, so that a wish changes only what it names.
    lots = dice.choice(SHAPES), dice.choice(tuple(MASKS)), dice.random() < 0.5
    shape, mask = shape or lots[0], mask or lots[1]
    populated = lots[2] if populated is None else populated
    face = _draw_face(dice, shape)
    _, _, width, height = face.bounds
    slots = tuple(_draw_slots(dice, face)) if dice.random() < 0.3 else ()
    holes = tuple(_draw_holes(dice, face, slots))
    artwork = draw_artwork(dice, width, height)
    drills = tuple(_draw_drills(dice, face, holes, slots)) if dice.random() < 0.6 else ()
    # Leads still fill the small holes of a populated board.
    drills = () if populated else drills
    solder = (*artwork.pads, *_rings_round((*holes, *drills)))
    parts = _standing(artwork.parts, face, holes) if populated else ()
    return BoardLayout(
        seed,
        mask,
        shape,
        tuple((float(x), float(y)) for x, y in face.exterior.coords[:-1]),
        holes,
        slots,
        drills,
        replace(artwork, pads=solder),
        parts,
        dice.choice((1.6, 1.6, 1.6, 1.2, 1.0, 2.0)),
    )


def _draw_face(dice: random.Random, shape: str) -> Polygon:
    """Outline without holes, its bounding box at the origin."""
    from shapely import Polygon, box, get_parts
    from shapely.affinity import translate
    from shapely.geometry.polygon import orient

    width, height = dice.uniform(60, 200), dice.uniform(45, 135)
    if shape == "strip":
        width, height = dice.uniform(110, 210), dice.uniform(18, 30)
    face: BaseGeometry = box(0, 0, width, height)
    if shape == "rounded":
        radius = dice.uniform(2, 6)
        face = face.buffer(-radius).buffer(radius, quad_segs=16)
    elif shape == "notched":
        for _ in range(dice.randint(1, 3)):
            x, deep, wide = dice.uniform(15, width - 25), dice.uniform(3, 9), dice.uniform(4, 10)
            y = 0.0 if dice.random() < 0.5 else height - deep
            face = face.difference(box(x, y, x + wide, y + deep))
    elif shape == "ell":
        x, y = width * dice.uniform(0.45, 0.7), height * dice.uniform(0.4, 0.65)
        face = face.difference(box(x, y, width + 1, height + 1))
    elif shape == "cutaway":
        face = face.difference(_draw_bite(dice, width, height))
    elif shape == "fingers":
        for x in (0.0, width * dice.uniform(0.4, 0.6), width - dice.uniform(6, 14)):
            face = face.difference(box(x - 1.5, -1, x + dice.uniform(2, 5), 7.0))
    elif shape == "chamfered":
        cut = dice.uniform(4, 14)
        low = [(cut, 0), (width, 0), (width, height - cut)]
        face = Polygon([*low, (width - cut, height), (0, height), (0, cut)])
    largest = max(get_parts(face), key=lambda part: part.area)
    left, bottom, _, _ = largest.bounds
    return orient(translate(largest, -left, -bottom))


def _draw_bite(dice: random.Random, width: float, height: float) -> Polygon:
    """A corner that somebody has cut away by hand, with a ragged edge."""
    from shapely import Polygon

    x, y = width * dice.uniform(0.5, 0.75), height * dice.uniform(0.3, 0.6)
    steps = 40
    ragged = [
        (
            x + (width - x) * i / steps + dice.gauss(0, 0.12),
            height - (height - y) * i / steps + dice.gauss(0, 0.12) + 6 * math.sin(i / 6),
        )
        for i in range(steps + 1)
    ]
    lead_in = [(ragged[0][0], height + 5)]
    lead_out = [(width + 5, ragged[-1][1]), (width + 5, height + 5)]
    return Polygon(lead_in + ragged + lead_out).buffer(0)


def _draw_slots(dice: random.Random, face: Polygon) -> Iterator[Ring]:
    from shapely import LineString
    from shapely.geometry.polygon import orient

    _, _, width, height = face.bounds
    for _ in range(dice.randint(1, 2)):
        x, y = dice.uniform(12, width - 22), dice.uniform(8, height - 8)
        long = LineString([(x, y), (x + dice.uniform(4, 9), y)])
        slot = orient(long.buffer(dice.uniform(1.0, 1.6), quad_segs=12))
        if face.buffer(-3).contains(slot):
            yield tuple((float(px), float(py)) for px, py in slot.exterior.coords[:-1])
            return


def _draw_holes(dice: random.Random, face: Polygon, slots: tuple[Ring, ...]) -> Iterator[Hole]:
    """Mounting holes: near corners as on most boards, and a few anywhere."""
    from shapely import Point, Polygon

    _, _, width, height = face.bounds
    inset, diameter = dice.uniform(4, 6), dice.choice((2.0, 2.2, 2.5, 2.7, 3.0, 3.2, 3.5, 4.0))
    wanted = [(inset, inset), (width - inset, inset), (inset, height - inset)]
    wanted += [(width - inset, height - inset)] if dice.random() < 0.8 else []
    spots = [(x, y, diameter) for x, y in wanted if dice.random() < 0.92]
    spots += [
        (dice.uniform(4, width - 4), dice.uniform(4, height - 4), diameter - 0.2)
        for _ in range(dice.randint(0, 4))
    ]
    free: BaseGeometry = face.buffer(-_HOLE_TO_RIM_MM)
    for slot in slots:
        free = free.difference(Polygon(slot).buffer(1.5))
    for x, y, wide in spots:
        wide = max(2.0, wide)
        disc = Point(x, y).buffer(wide / 2)
        if free.contains(disc):
            free = free.difference(disc.buffer(1.5))
            yield Hole(x, y, wide)


def _draw_drills(
    dice: random.Random, face: Polygon, holes: tuple[Hole, ...], slots: tuple[Ring, ...]
) -> Iterator[Hole]:
    """Rows of small holes where leaded parts stood."""
    from shapely import Point, Polygon

    _, _, width, height = face.bounds
    free: BaseGeometry = face.buffer(-1.5)
    for ring in (*(hole.ring(sides=16) for hole in holes), *slots):
        free = free.difference(Polygon(ring).buffer(1.2))
    taken: list[Place] = []
    for _ in range(dice.randint(2, 6)):
        x, y, wide = (
            dice.uniform(5, width - 20),
            dice.uniform(5, height - 5),
            dice.uniform(0.7, 1.2),
        )
        for i in range(dice.randint(4, 14)):
            spot = x + 2.54 * i, y
            clear = all(math.dist(spot, other) > 2.4 for other in taken)
            if clear and free.contains(Point(spot).buffer(wide / 2 + 0.3)):
                taken.append(spot)
                yield Hole(*spot, wide)


def _rings_round(holes: tuple[Hole, ...]) -> tuple[tuple[float, float, float, float, bool], ...]:
    """Copper rings round holes, as pads."""
    return tuple((h.x, h.y, h.diameter + 0.9, h.diameter + 0.9, True) for h in holes)


def _standing(parts: tuple[Part, ...], face: Polygon, holes: tuple[Hole, ...]) -> tuple[Part, ...]:
    """
    Parts whose body stays well inside the outline, and off the holes.

    A tall part near the rim hides it from a slanting camera; those are a case of their own.
    """
    from shapely import Point, box, unary_union

    bored = unary_union([Point(h.x, h.y).buffer(h.diameter / 2) for h in holes])
    kept = []
    for part in parts:
        # Seen 57 degrees aslant, at the rim of a photo tilted by 35, a part leans 1.5 heights out.
        lean = 1.0 + 1.6 * part.tall
        body = box(
            part.x - part.wide / 2,
            part.y - part.deep / 2,
            part.x + part.wide / 2,
            part.y + part.deep / 2,
        )
        if face.contains(body.buffer(lean)) and not body.buffer(lean).intersects(bored):
            kept.append(part)
    return tuple(kept)
