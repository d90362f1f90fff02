"""
By which turns and mirrorings a shape falls onto itself.

Angles that differ by such a turn need not be tried twice. Lengths are millimetres.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from salvage.geometry.arcs import FLATTENING_MM
from salvage.geometry.outline import to_polygon
from salvage.records.region import Region

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from shapely import Polygon

# A shape drawn as symmetric is so on the micrometre grid to one or two micrometres. Whoever leaves
# out angles because of this must allow for it.
SYMMETRY_MM = 0.005
_HIGHEST_ORDER = 12
_WALK_MM = 0.5


@dataclass(frozen=True, slots=True)
class Symmetry:
    """
    Symmetries of a shape.

    Args:
        order: Number of turns within a full one that leave it unchanged; 1 for none, up to 12.
        mirrored: Whether it equals its mirror image, turned suitably.
        is_round: Whether it is a disc but for its straight steps; every turn leaves it unchanged.
    """

    order: int
    mirrored: bool
    is_round: bool


@lru_cache(maxsize=64)
def symmetry_of(shape: Region) -> Symmetry:
    """
    The symmetries of a shape about its centre of gravity.

    >>> from salvage.geometry.outline import rectangle
    >>> symmetry_of(rectangle(40, 25))
    Symmetry(order=2, mirrored=True, is_round=False)
    """
    polygon = to_polygon(shape)
    walk = _walk(polygon)
    if _is_round(polygon, walk):
        return Symmetry(1, True, True)
    orders = [n for n in range(_HIGHEST_ORDER, 1, -1) if _falls_on(polygon, walk, 2 * math.pi / n)]
    return Symmetry(orders[0] if orders else 1, _is_mirrored(polygon, walk), False)


def _walk(polygon: Polygon) -> NDArray[np.complex128]:
    """Points along all rings, seen from the centre of gravity; corners come first."""
    import numpy as np
    import shapely

    corners = shapely.get_coordinates(polygon)
    steps = shapely.get_coordinates(shapely.segmentize(polygon, _WALK_MM))
    points = np.vstack([corners, steps])
    middle = polygon.centroid
    walk: NDArray[np.complex128] = (points[:, 0] - middle.x) + 1j * (points[:, 1] - middle.y)
    return walk


def _is_round(polygon: Polygon, walk: NDArray[np.complex128]) -> bool:
    away = abs(walk)
    return not polygon.interiors and float(away.max() - away.min()) <= 2 * FLATTENING_MM


def _falls_on(polygon: Polygon, walk: NDArray[np.complex128], turn: float) -> bool:
    return _lies_on_edge(polygon, walk, walk * cmath.exp(1j * turn))


def _lies_on_edge(
    polygon: Polygon, walk: NDArray[np.complex128], moved: NDArray[np.complex128]
) -> bool:
    """Whether all moved points lie on the polygon's edge; the farthest is tried first."""
    first = int(abs(walk).argmax())
    return all(_gap(polygon, points) <= SYMMETRY_MM for points in (moved[first : first + 1], moved))


def _gap(polygon: Polygon, walk: NDArray[np.complex128]) -> float:
    import shapely

    middle = polygon.centroid
    points = shapely.points(walk.real + middle.x, walk.imag + middle.y)
    return float(shapely.distance(polygon.boundary, points).max())


def _is_mirrored(polygon: Polygon, walk: NDArray[np.complex128]) -> bool:
    """
    Whether some mirror axis through the centre maps the shape onto itself.

    The farthest point must go to one as far away; the axis lies half way between them.
    """
    import numpy as np

    away = abs(walk)
    first = int(away.argmax())
    partners = np.flatnonzero(away >= away[first] - SYMMETRY_MM)
    for partner in partners[:200]:
        twice_axis = walk[first] * walk[partner]
        moved = walk.conj() * (twice_axis / abs(twice_axis))
        if _lies_on_edge(polygon, walk, moved):
            return True
    return False
