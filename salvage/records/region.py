"""
A region of a board: one outer ring and its holes, in whole micrometres.

Board coordinates: the front side as seen, origin at the lower left corner of the outline's bounding
box, x right, y up. The outer ring runs counter-clockwise, holes run clockwise, and the first point
is not repeated at the end. Whole micrometres make the journal exact and comparison simple.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, TypeAlias

from salvage.frozen import dataclass

if TYPE_CHECKING:
    from collections.abc import Sequence

Point: TypeAlias = tuple[int, int]
Ring: TypeAlias = tuple[Point, ...]

UM2_PER_MM2 = 1_000_000


@dataclass(frozen=True, slots=True)
class Region:
    """
    A polygon on the micrometre grid.

    Args:
        outer: Outer ring, counter-clockwise, at least three points.
        holes: Rings of the holes, clockwise.

    >>> Region(((0, 0), (10_000, 0), (10_000, 5_000), (0, 5_000))).area_mm2
    50.0
    """

    outer: Ring
    holes: tuple[Ring, ...] = ()

    @property
    def area_um2(self) -> int:
        """Area less the holes, in whole square micrometres; a half is dropped."""
        return self._twice_area_um2 // 2

    @property
    def area_mm2(self) -> float:
        """Area less the holes, in square millimetres."""
        return self._twice_area_um2 / (2 * UM2_PER_MM2)

    @property
    def _twice_area_um2(self) -> int:
        """Twice the area, which is always whole on the grid."""
        return abs(twice_area(self.outer)) - sum(abs(twice_area(hole)) for hole in self.holes)

    @property
    def bounds_um(self) -> tuple[int, int, int, int]:
        """Left, bottom, right and top of the outer ring."""
        xs = [x for x, _ in self.outer]
        ys = [y for _, y in self.outer]
        return min(xs), min(ys), max(xs), max(ys)

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height of the bounding box, in millimetres."""
        left, bottom, right, top = self.bounds_um
        return (right - left) / 1000, (top - bottom) / 1000

    def to_rings(self) -> list[list[list[int]]]:
        """Lists for the journal: the outer ring, then the holes; each point is ``[x, y]``."""
        return [[[x, y] for x, y in ring] for ring in (self.outer, *self.holes)]

    def to_text(self) -> str:
        """Compact JSON of :meth:`to_rings`, as the tables keep it."""
        return json.dumps(self.to_rings(), separators=(",", ":"))


def region_of_rings(rings: Sequence[Sequence[Sequence[int]]]) -> Region:
    """The region whose rings were written by :meth:`Region.to_rings`."""
    outer, *holes = (tuple((int(x), int(y)) for x, y in ring) for ring in rings)
    return Region(outer, tuple(holes))


def region_of_text(text: str) -> Region:
    """The region whose JSON was written by :meth:`Region.to_text`."""
    return region_of_rings(json.loads(text))


def twice_area(ring: Ring) -> int:
    """Twice the signed area of a ring, positive when counter-clockwise (shoelace formula)."""
    return sum(
        x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in zip(ring, (*ring[1:], ring[0]), strict=True)
    )
