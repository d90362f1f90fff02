"""
Which ground the rings of one drawn path cover.

A path may hold several rings, and a ring may cross itself or another. The drawing says by its fill
rule what is inside: *nonzero* counts how often the rings wind round a point, *evenodd* how often a
line from it crosses them (Scalable Vector Graphics 2, W3C, section 13.4.2, "Winding rule: the
fill-rule property"; from memory). Lengths are millimetres.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

from salvage.errors import BadFile
from salvage.geometry.arcs import PointMm
from salvage.geometry.overlay import unite

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from shapely import MultiPolygon
    from shapely.geometry.base import BaseGeometry

FillRule = Literal["nonzero", "evenodd"]

# A real drawing crosses itself a few times; thousands of crossings are noise or an attack, and the
# work grows with their square.
MOST_CROSSINGS = 2000
_BATCH = 64
# A step meets itself and its two neighbours; where rings touch, a few more.
_USUAL_MEETINGS = 8


def fill_rings(rings: Sequence[Sequence[PointMm]], rule: FillRule) -> MultiPolygon:
    """
    The ground the rings cover.

    Args:
        rings: Closed rings; the first point is not repeated at the end.
        rule: The fill rule of the path.

    Raises:
        BadFile: If the rings cross more than 2000 times.

    >>> square, inner = [(0, 0), (9, 0), (9, 9), (0, 9)], [(3, 3), (6, 3), (6, 6), (3, 6)]
    >>> fill_rings([square, inner], "evenodd").area
    72.0
    >>> fill_rings([square, inner], "nonzero").area
    81.0
    """
    import shapely

    lines = [shapely.LinearRing(ring) for ring in rings if len(set(ring)) > 2]
    if not lines:
        return unite([])
    steps = _steps(rings)
    _check_tangle(steps)
    noded = shapely.union_all(lines)
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(noded)))
    return unite([face for face in faces if _is_inside(face, steps, rule)])


def _steps(rings: Sequence[Sequence[PointMm]]) -> NDArray[np.float64]:
    """Start and end of every straight step, shape (steps, 4)."""
    import numpy as np

    starts = np.array([point for ring in rings for point in ring], dtype=np.float64)
    ends = np.array([p for ring in rings for p in (*ring[1:], ring[0])], dtype=np.float64)
    return np.hstack([starts, ends])


def _is_inside(face: BaseGeometry, steps: NDArray[np.float64], rule: FillRule) -> bool:
    """Whether a face, which no ring crosses, is inside: a ray to the right from a point in it."""
    point = face.representative_point()
    x1, y1, x2, y2 = steps.T
    upward, downward = (y1 <= point.y) & (y2 > point.y), (y2 <= point.y) & (y1 > point.y)
    side = (x2 - x1) * (point.y - y1) - (point.x - x1) * (y2 - y1)
    ups, downs = int((upward & (side > 0)).sum()), int((downward & (side < 0)).sum())
    return ups != downs if rule == "nonzero" else (ups + downs) % 2 == 1


def _check_tangle(steps: NDArray[np.float64]) -> None:
    """Count meetings batch by batch, so that a tangle is refused before it costs much."""
    import numpy as np
    import shapely

    lines = np.asarray(shapely.linestrings(steps.reshape(-1, 2, 2)), dtype=object)
    tree = shapely.STRtree(lines)
    crossings = meetings = 0
    for start in range(0, len(lines), _BATCH):
        batch = lines[start : start + _BATCH]
        ours, theirs = tree.query(batch, predicate="intersects")
        meetings += len(ours)
        crossings += int(shapely.crosses(batch[ours], lines[theirs]).sum())
        # Each pair is met from both sides. Steps that lie on one another meet without crossing.
        if crossings > 2 * MOST_CROSSINGS or meetings > _USUAL_MEETINGS * len(lines) + 1000:
            raise BadFile(
                f"the outline crosses or covers itself more than {MOST_CROSSINGS} times",
                hint="unite or simplify the paths in the drawing program",
            )
