"""
How far points lie from the edges of an area, exactly and for many points at once.

The library measures a point against every edge; here a tree of the edges finds the nearest ones.
Lengths are millimetres.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry


class Edges:
    """
    All edges of an area, of holes too.

    Args:
        area: Polygons.
    """

    __slots__ = ("ends", "tree")

    def __init__(self, area: BaseGeometry) -> None:
        import numpy as np
        import shapely

        rings = shapely.get_rings(shapely.get_parts(area))
        points, ring = shapely.get_coordinates(rings, return_index=True)
        same = np.flatnonzero(ring[1:] == ring[:-1])
        self.ends: NDArray[np.float64] = np.hstack([points[same], points[same + 1]])
        lines = np.asarray(shapely.linestrings(self.ends.reshape(-1, 2, 2)))
        self.tree = shapely.STRtree(lines)

    def distances(self, xs: NDArray[np.float64], ys: NDArray[np.float64]) -> NDArray[np.float64]:
        """
        Distance from each point to the nearest edge.

        >>> import numpy as np, shapely
        >>> Edges(shapely.box(0, 0, 10, 4)).distances(np.array([5.0, 12.0]), np.array([1.0, 2.0]))
        array([1., 2.])
        """
        import numpy as np
        import shapely

        points = np.asarray(shapely.points(xs, ys))
        (which, _), found = self.tree.query_nearest(points, return_distance=True)
        away = np.empty(len(points))
        away[which] = found
        return away


class Nearby:
    """
    The edges near each of some points, for measuring again after the points have moved a little.

    Args:
        edges: All edges.
        xs: The points.
        ys: The same upward.
        within_mm: How much farther away than the nearest edge others are kept.
    """

    __slots__ = ("_ends", "_first", "_point")

    def __init__(
        self,
        edges: Edges,
        xs: NDArray[np.float64],
        ys: NDArray[np.float64],
        *,
        within_mm: float,
    ) -> None:
        import numpy as np
        import shapely

        away = edges.distances(xs, ys) + within_mm
        point, edge = edges.tree.query(shapely.points(xs, ys), predicate="dwithin", distance=away)
        order = np.argsort(point, kind="stable")
        self._point = point[order]
        self._ends = edges.ends[edge[order]]
        self._first = np.searchsorted(self._point, np.arange(len(xs)))

    def distances(self, xs: NDArray[np.float64], ys: NDArray[np.float64]) -> NDArray[np.float64]:
        """
        Distance to the nearest of the kept edges; rows of points by the points as given.

        Too large for a point that moved more than half of *within_mm*.
        """
        import numpy as np

        x1, y1, x2, y2 = self._ends.T
        dx, dy = x2 - x1, y2 - y1
        px, py = xs[:, self._point] - x1, ys[:, self._point] - y1
        long = np.maximum(dx * dx + dy * dy, 1e-18)
        along = np.clip((px * dx + py * dy) / long, 0.0, 1.0)
        away = np.hypot(px - along * dx, py - along * dy)
        nearest: NDArray[np.float64] = np.minimum.reduceat(away, self._first, axis=1)
        return nearest
