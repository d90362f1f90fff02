"""
A shape as a few discs inside it, to ask quickly whether it can lie at a place.

Wherever the shape fits, each of its discs fits, so one disc without room proves that the shape has
none. Discs are chosen so that they reach every point of the shape's edge to a tenth of
a millimetre. A disc of radius 0 is a point of the edge. Lengths are millimetres.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from salvage.geometry.outline import to_polygon
from salvage.geometry.symmetry import Symmetry, symmetry_of
from salvage.records.region import Region

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from shapely import Polygon

_REACH_MM = 0.1
_MOST_DISCS = 240
_LEAST_RADIUS_MM = 0.3


@dataclass(frozen=True, slots=True)
class Probes:
    """
    A shape prepared for fitting.

    Args:
        shape: The shape.
        polygon: The same in millimetres.
        symmetry: Its symmetries.
        centre_mm: Centre of its largest inscribed circle; the discs are counted from here.
        xs: Disc centres, the largest disc first.
        ys: The same upward.
        radii: Disc radii; never too large.
        enclosing_mm: Radius of the smallest circle round the shape.
        enclosing_at_mm: Its centre.
        least_width_mm: Least width of its hull in any direction.
        longest_mm: Largest distance between two of its points.
    """

    shape: Region
    polygon: Polygon
    symmetry: Symmetry
    centre_mm: tuple[float, float]
    xs: NDArray[np.float64]
    ys: NDArray[np.float64]
    radii: NDArray[np.float64]
    enclosing_mm: float
    enclosing_at_mm: tuple[float, float]
    least_width_mm: float
    longest_mm: float

    @property
    def inscribed_mm(self) -> float:
        """Radius of the largest disc; never too large."""
        return float(self.radii[0])

    @property
    def reach_mm(self) -> float:
        """How far the farthest disc's centre lies from the first one's."""
        import numpy as np

        return float(np.hypot(self.xs, self.ys).max())


@lru_cache(maxsize=64)
def probe_shape(shape: Region) -> Probes:
    """
    The discs and measures of a shape.

    >>> from salvage.geometry.outline import rectangle
    >>> probes = probe_shape(rectangle(40, 20))
    >>> round(probes.inscribed_mm, 2), round(probes.enclosing_mm, 2)
    (10.0, 22.36)
    """
    import numpy as np
    import shapely

    polygon = to_polygon(shape)
    spoke = shapely.maximum_inscribed_circle(polygon, tolerance=0.005)
    first = np.array(spoke.coords[0])
    centres = np.array(_choose_centres(polygon, first))
    radii = np.array(shapely.distance(polygon.boundary, shapely.points(centres)))
    # The library's distance is exact to the last digits; a point of the edge stays a point.
    radii = np.maximum(radii - 1e-9, 0.0)
    circle = shapely.minimum_bounding_circle(polygon)
    middle = circle.centroid
    corners = shapely.get_coordinates(polygon.convex_hull)
    gaps = corners[:, None, :] - corners[None, :, :]
    away = np.hypot(*(shapely.get_coordinates(polygon) - [middle.x, middle.y]).T)
    return Probes(
        shape=shape,
        polygon=polygon,
        symmetry=symmetry_of(shape),
        centre_mm=(float(first[0]), float(first[1])),
        xs=centres[:, 0] - first[0],
        ys=centres[:, 1] - first[1],
        radii=radii,
        enclosing_mm=float(away.max()),
        enclosing_at_mm=(middle.x, middle.y),
        least_width_mm=least_width(polygon),
        longest_mm=float(np.hypot(gaps[..., 0], gaps[..., 1]).max()),
    )


def least_width(polygon: Polygon) -> float:
    """
    Least width of a polygon's hull: the narrowest slot it passes through.

    One of its edges lies along that slot, so only those directions are tried.
    """
    import numpy as np
    import shapely

    corners = shapely.get_coordinates(polygon.convex_hull)[:-1]
    edges = np.roll(corners, -1, axis=0) - corners
    normals = np.stack([-edges[:, 1], edges[:, 0]]) / np.hypot(*edges.T)
    across = corners @ normals
    return float((across.max(axis=0) - across.min(axis=0)).min())


def _choose_centres(polygon: Polygon, first: NDArray[np.float64]) -> list[NDArray[np.float64]]:
    """Each next disc goes to the point of the edge that is farthest from all discs so far."""
    import numpy as np
    import shapely

    boundary = polygon.boundary
    edge, inward = _walk_edge(polygon)
    centres = [first]
    deepest = boundary.distance(shapely.Point(first))
    depths = np.geomspace(0.1, max(deepest, 0.2), 40)
    gaps = np.hypot(*(edge - first).T) - deepest
    while len(centres) < _MOST_DISCS and gaps.max() > _REACH_MM:
        worst = int(gaps.argmax())
        # Candidates on the way inward; one whose circle comes back to the edge touches it there.
        tried = edge[worst] + depths[:, None] * inward[worst]
        found = shapely.distance(boundary, shapely.points(tried))
        touching = np.flatnonzero((found >= depths - _REACH_MM) & _inside(polygon, tried))
        depth = int(touching[-1]) if len(touching) else 0
        centre, radius = tried[depth], found[depth]
        if depths[depth] < _LEAST_RADIUS_MM:
            centre, radius = edge[worst], 0.0
        gaps = np.minimum(gaps, np.hypot(*(edge - centre).T) - radius)
        # Rounding must not bring the same point up again.
        gaps[worst] = min(gaps[worst], 0.0)
        centres.append(centre)
    return centres


def _walk_edge(polygon: Polygon) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Points along all rings and the direction inward at each, at corners half way between."""
    import numpy as np
    import shapely

    pace = max(0.2, polygon.length / 1000)
    points, directions = [], []
    for ring in shapely.get_rings(shapely.orient_polygons(polygon)):
        walk = shapely.get_coordinates(shapely.segmentize(ring, pace))[:-1]
        ahead = np.roll(walk, -1, axis=0) - walk
        ahead /= np.hypot(*ahead.T)[:, None]
        along = ahead + np.roll(ahead, 1, axis=0)
        along /= np.maximum(np.hypot(*along.T), 1e-9)[:, None]
        points.append(walk)
        directions.append(np.stack([-along[:, 1], along[:, 0]], axis=1))
    return np.vstack(points), np.vstack(directions)


def _inside(polygon: Polygon, points: NDArray[np.float64]) -> NDArray[np.bool_]:
    import numpy as np
    import shapely

    return np.asarray(shapely.contains_xy(polygon, points[:, 0], points[:, 1]), dtype=np.bool_)
