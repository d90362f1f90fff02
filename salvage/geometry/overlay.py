"""
Overlays in the plane that give polygons and nothing else.

An overlay of two polygons may also return the points and lines where they merely touch; fed into
the next overlay, those raise. So every function here drops them. No overlay is given a grid: plain
double precision keeps area to about 1e-10 mm², a grid per overlay loses up to a third of a square
millimetre on a board with ten cuts (measured). Snapping belongs to :mod:`salvage.geometry.outline`.
All lengths are millimetres.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

    from shapely import MultiPolygon, Polygon
    from shapely.geometry.base import BaseGeometry

# A growth may reach this much further than asked, never less far: one step of the micrometre grid.
GROWTH_EXCESS_MM = 0.001
# The same where a hundredth of a millimetre more is no harm; it halves the number of corners.
COARSE_EXCESS_MM = 0.01

# A round buffer is a polygon inscribed in the true one. Where an arc is not a whole number of
# steps, the library rounds their number, so one step can be half as long again (measured: the
# distance falls to cos(1.5 x 90 deg / 2n) of what was asked, not to cos(90 deg / 2n)).
_LONGEST_STEP = 1.5


def polygon_parts(geometry: BaseGeometry) -> list[Polygon]:
    """The polygons of any geometry, in its order; points, lines and empty parts are left out."""
    import shapely

    if geometry.geom_type == "Polygon":
        return [] if geometry.is_empty else [geometry]  # type: ignore[list-item]
    parts = shapely.get_parts(geometry)
    if geometry.geom_type == "GeometryCollection":
        parts = shapely.get_parts(parts)
    return [part for part in parts if part.geom_type == "Polygon" and not part.is_empty]


def polygons(geometry: BaseGeometry) -> MultiPolygon:
    """The polygons of any geometry as one multipolygon, which may be empty."""
    from shapely import MultiPolygon

    return MultiPolygon(polygon_parts(geometry))


def unite(geometries: Iterable[BaseGeometry]) -> MultiPolygon:
    """What lies in any of the geometries."""
    import shapely

    return polygons(shapely.union_all(list(geometries)))


def intersect(one: BaseGeometry, other: BaseGeometry) -> MultiPolygon:
    """What lies in both."""
    return polygons(one.intersection(other))


def subtract(one: BaseGeometry, other: BaseGeometry) -> MultiPolygon:
    """What lies in *one* and not in *other*."""
    return polygons(one.difference(other))


def grow(
    geometry: BaseGeometry, distance_mm: float, *, excess_mm: float = GROWTH_EXCESS_MM
) -> MultiPolygon:
    """
    Everything within *distance_mm* of the geometry; at most *excess_mm* more, never less.

    >>> from shapely import Point, box
    >>> grown = grow(box(0, 0, 40, 25), 2)
    >>> round(grown.area, 1)  # 40 x 25 + 2 x (40 + 25) x 2 + pi x 2 x 2 = 1272.57
    1272.7
    """
    if distance_mm <= 0:
        return polygons(geometry)
    steps, reach = _safe_reach(distance_mm, excess_mm)
    return polygons(geometry.buffer(reach, quad_segs=steps))


def open_by(geometry: BaseGeometry, width_mm: float) -> MultiPolygon:
    """
    The part of the geometry that a disc of diameter *width_mm* can sweep without leaving it.

    Narrow necks and sharp corners fall away. A strip exactly as wide as the disc stays, and so may
    one up to 0.02 mm narrower: the disc is taken a little smaller while shrinking.
    """
    radius = width_mm / 2
    if radius <= COARSE_EXCESS_MM:
        return polygons(geometry)
    steps, reach = _safe_reach(radius - COARSE_EXCESS_MM, COARSE_EXCESS_MM / 2)
    core = polygons(geometry.buffer(-reach, quad_segs=steps))
    return intersect(core.buffer(radius, quad_segs=steps), geometry)


def _safe_reach(distance_mm: float, excess_mm: float) -> tuple[int, float]:
    """Steps per quarter circle, and the buffer distance whose polygon contains the true round."""
    half_step = math.sqrt(2 * excess_mm / (distance_mm + excess_mm))
    steps = max(2, math.ceil(_LONGEST_STEP * math.pi / 4 / half_step))
    return steps, distance_mm / math.cos(_LONGEST_STEP * math.pi / 4 / steps)
