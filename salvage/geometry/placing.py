"""
Where a shape lies on a board.

A shape is turned over first (if asked), then rotated about its own origin, then moved.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from salvage.errors import BadOutline
from salvage.geometry.outline import to_polygon, to_regions
from salvage.records.region import Region
from salvage.units import from_um

_FULL_TURN_MDEG = 360_000
# Cosine and sine of whole quarter turns, exact, so that a square turned by 90 degrees stays square.
_QUARTERS = {0: (1.0, 0.0), 90_000: (0.0, 1.0), 180_000: (-1.0, 0.0), 270_000: (0.0, -1.0)}


@dataclass(frozen=True, slots=True)
class Placement:
    """
    A place on a board, in board coordinates.

    Args:
        x_um: Where the shape's origin comes to lie, from the board's left, in µm.
        y_um: The same from the board's lower edge.
        angle_mdeg: Rotation counter-clockwise, in thousandths of a degree.
        mirrored: Turned over before rotating: x becomes -x.
    """

    x_um: int
    y_um: int
    angle_mdeg: int = 0
    mirrored: bool = False


def place(shape: Region, placement: Placement) -> Region:
    """
    The shape where the placement puts it, on the micrometre grid.

    Rounding to the grid may close a neck thinner than a micrometre; then the largest part is given.

    Raises:
        BadOutline: If the shape is so small that nothing of it is left on the grid.

    >>> bar = Region(((0, 0), (4000, 0), (4000, 1000), (0, 1000)))
    >>> place(bar, Placement(10_000, 0, 90_000)).bounds_um
    (9000, 0, 10000, 4000)
    """
    from shapely import affinity

    cosine, sine = _turn(placement.angle_mdeg)
    side = -1 if placement.mirrored else 1
    x_mm, y_mm = from_um(placement.x_um), from_um(placement.y_um)
    # Rows of the matrix: x and y of the board from x and y of the shape, then the move.
    matrix = [side * cosine, -sine, side * sine, cosine, x_mm, y_mm]
    parts = to_regions(affinity.affine_transform(to_polygon(shape), matrix))
    if not parts:
        raise BadOutline("the shape is too small to place", hint="check its size in mm")
    return parts[0]


def _turn(angle_mdeg: int) -> tuple[float, float]:
    angle = angle_mdeg % _FULL_TURN_MDEG
    if angle in _QUARTERS:
        return _QUARTERS[angle]
    radians = math.radians(angle / 1000)
    return math.cos(radians), math.sin(radians)
