"""
Regions made, checked, and carried to and from the geometry library.

A :class:`~salvage.records.region.Region` is whole micrometres; the library computes in floating
millimetres. Rounding back to the grid may make a thin neck touch itself, so what comes back is
looked at again and mended.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from salvage.errors import BadFile, BadOutline, BadValue
from salvage.geometry.arcs import FLATTENING_MM, PointMm, round_ring
from salvage.geometry.overlay import polygon_parts, polygons
from salvage.geometry.rings import (
    MOST_MM,
    check_ring,
    format_place,
    place_of_reason,
    tidy_region,
)
from salvage.records.region import Point, Region, Ring
from salvage.units import UM_PER_MM, to_um

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from shapely import Polygon
    from shapely.geometry.base import BaseGeometry

__all__ = [
    "FLATTENING_MM",
    "MOST_MM",
    "centre",
    "check_region",
    "check_size",
    "circle",
    "map_points",
    "rectangle",
    "region_of_mm",
    "region_of_points",
    "scale_to",
    "settle",
    "snap_points",
    "to_polygon",
    "to_regions",
]


def to_polygon(region: Region) -> Polygon:
    """The region as the geometry library's polygon, in millimetres."""
    import shapely

    rings = [[(x / UM_PER_MM, y / UM_PER_MM) for x, y in r] for r in (region.outer, *region.holes)]
    return shapely.Polygon(rings[0], rings[1:])


def to_regions(geometry: BaseGeometry, *, least_mm2: float = 0.0) -> tuple[Region, ...]:
    """
    The polygons of a geometry as tidy regions, largest first.

    Points and lines are left out, and so is what vanishes on the grid. A polygon that crosses
    itself, there or after rounding, is split into parts that do not.

    Args:
        geometry: Anything the geometry library returns, in millimetres.
        least_mm2: Parts smaller than this are left out.
    """
    least_um2 = max(least_mm2 * UM_PER_MM**2, 1.0)
    parts = [part for whole in polygon_parts(geometry) for part in _snap(whole)]
    kept = [(-part.area, _region_of_polygon(part)) for part in parts if part.area >= least_um2]
    return tuple(region for _, region in sorted(kept, key=lambda pair: (pair[0], pair[1].outer)))


def check_region(region: Region, *, field: str = "") -> Region:
    """
    The region in its tidy form, if it is one piece of ground.

    Args:
        region: Rings in any direction; a repeated first point at the end is taken off.
        field: Label for the error.

    Raises:
        BadOutline: If a ring crosses itself, has no area, fewer than 3 points or more than
            2000 mm each way; if a hole lies outside, on another hole, or cuts the region in two.

    >>> check_region(Region(((0, 0), (0, 5000), (5000, 5000), (5000, 0)))).outer
    ((0, 0), (5000, 0), (5000, 5000), (0, 5000))
    """
    tidy = tidy_region(region)
    check_ring(tidy.outer, name="the outline", field=field)
    for number, hole in enumerate(tidy.holes, 1):
        check_ring(hole, name=f"hole {number}", field=field)
    _check_holes(tidy, field=field)
    return tidy


def region_of_points(points_mm: Sequence[PointMm], *, field: str) -> Region:
    """
    The region whose corners were typed, in millimetres, in order round the edge.

    Args:
        points_mm: Corners, either way round; the first may be repeated at the end.
        field: Label for the error.

    Raises:
        BadOutline: If the corners make no outline (:func:`check_region`).
    """
    for x, y in points_mm:
        if not (math.isfinite(x) and math.isfinite(y)):
            raise BadOutline(f"({x}, {y}) is no point", hint="give numbers in mm", field=field)
    return check_region(Region(snap_points(points_mm)), field=field)


def region_of_mm(outer: Sequence[PointMm], holes: Sequence[Sequence[PointMm]] = ()) -> Region:
    """The checked region of computed rings in millimetres, in any direction."""
    return check_region(Region(snap_points(outer), tuple(snap_points(hole) for hole in holes)))


def rectangle(width_mm: float, height_mm: float, *, corner_mm: float = 0.0) -> Region:
    """
    A rectangle from the origin to the right and up, its corners rounded by *corner_mm*.

    Raises:
        BadValue: If a side is not above 0 and up to 2000 mm, or the corners do not fit.

    >>> rectangle(244, 244).area_mm2
    59536.0
    """
    check_size(width_mm, "width")
    check_size(height_mm, "height")
    if not 0 <= corner_mm <= min(width_mm, height_mm) / 2:
        raise BadValue(
            f"a corner radius of {corner_mm:g} mm does not fit {width_mm:g} x {height_mm:g} mm",
            hint=f"from 0 to {min(width_mm, height_mm) / 2:g} mm",
        )
    if to_um(corner_mm) == 0:
        return region_of_mm([(0, 0), (width_mm, 0), (width_mm, height_mm), (0, height_mm)])
    ring = round_ring(2 * corner_mm)
    quarter = len(ring) // 4
    right, top = width_mm - corner_mm, height_mm - corner_mm
    middles = [(right, top), (corner_mm, top), (corner_mm, corner_mm), (right, corner_mm)]
    points = [
        (x + ring[index % len(ring)][0], y + ring[index % len(ring)][1])
        for turn, (x, y) in enumerate(middles)
        for index in range(turn * quarter, (turn + 1) * quarter + 1)
    ]
    return region_of_mm(points)


def circle(diameter_mm: float) -> Region:
    """
    A circle about the origin; true across and in area (:func:`salvage.geometry.arcs.round_ring`).

    Raises:
        BadValue: If the diameter is not above 0 and up to 2000 mm.
    """
    check_size(diameter_mm, "diameter")
    return region_of_mm(round_ring(diameter_mm))


def check_size(value_mm: float, name: str) -> None:
    """
    Raise unless a width, height or diameter is above 0 and up to 2000 mm.

    Raises:
        BadValue: If it is not so.
    """
    if not 0 < value_mm <= MOST_MM:
        raise BadValue(
            f"a {name} of {value_mm:g} mm is out of range", hint=f"above 0 up to {MOST_MM:g} mm"
        )


def settle(region: Region) -> Region:
    """The region moved so that the lower left corner of its bounding box is the origin."""
    left, bottom, _, _ = region.bounds_um
    return map_points(region, lambda point: (point[0] - left, point[1] - bottom))


def centre(region: Region) -> Region:
    """The region moved so that the middle of its bounding box is the origin, to a micrometre."""
    left, bottom, right, top = region.bounds_um
    x, y = (left + right) // 2, (bottom + top) // 2
    return map_points(region, lambda point: (point[0] - x, point[1] - y))


def scale_to(
    region: Region, *, width_mm: float | None = None, height_mm: float | None = None
) -> Region:
    """
    The region stretched about the origin to a width, a height, or both.

    With one of them the proportions stay; with neither the region stays as it is.

    Raises:
        BadValue: If a size is not above 0 and up to 2000 mm.
        BadOutline: If it becomes too large, or so small that its corners run together.
    """
    for value, name in ((width_mm, "width"), (height_mm, "height")):
        if value is not None:
            check_size(value, name)
    width, height = region.size_mm
    across = width_mm / width if width_mm is not None else None
    upward = height_mm / height if height_mm is not None else None
    fx, fy = across or upward or 1.0, upward or across or 1.0
    left, bottom, _, _ = region.bounds_um
    # Measured from the lower left corner, so that the width comes out exact to the micrometre.
    base_x, base_y = round(left * fx), round(bottom * fy)
    return check_region(
        map_points(
            region,
            lambda p: (base_x + round((p[0] - left) * fx), base_y + round((p[1] - bottom) * fy)),
        )
    )


def map_points(region: Region, move: Callable[[Point], Point]) -> Region:
    """The tidy region whose points are moved one by one; not checked."""
    outer, *holes = (tuple(move(point) for point in ring) for ring in (region.outer, *region.holes))
    return tidy_region(Region(outer, tuple(holes)))


def snap_points(points: Sequence[PointMm]) -> Ring:
    """The points on the micrometre grid, not tidied."""
    return tuple((to_um(x), to_um(y)) for x, y in points)


def _snap(polygon: Polygon) -> list[Polygon]:
    """The polygon in whole micrometres; more or fewer than one if rounding breaks it."""
    import shapely

    on_grid = shapely.transform(polygon, lambda points: (points * UM_PER_MM).round())
    if on_grid.is_valid:
        return [on_grid]
    # The other way of mending (by lines) turned hair-thin rings inside out, and so did mending
    # after the change to micrometres; these two did not, in 40 000 trials.
    whole: BaseGeometry = polygon
    if not polygon.is_valid:
        whole = shapely.make_valid(polygon, method="structure", keep_collapsed=False)
    mended = shapely.set_precision(polygons(whole), 1 / UM_PER_MM)
    in_um = shapely.transform(mended, lambda points: (points * UM_PER_MM).round())
    return [part for part in polygon_parts(in_um) if part.is_valid]


def _region_of_polygon(polygon: Polygon) -> Region:
    """The tidy region of a polygon whose coordinates are whole micrometres already."""
    import shapely

    outer, *holes = (
        tuple(map(tuple, shapely.get_coordinates(ring).astype(int).tolist()[:-1]))
        for ring in (polygon.exterior, *polygon.interiors)
    )
    return tidy_region(Region(outer, tuple(holes)))


def _check_holes(region: Region, *, field: str) -> None:
    import shapely

    polygon = shapely.Polygon(region.outer, region.holes)
    if polygon.is_valid:
        return
    reason = shapely.is_valid_reason(polygon)
    place = format_place(place_of_reason(reason))
    outside = shapely.Polygon(region.outer)
    for number, hole in enumerate(region.holes, 1):
        if not outside.covers(shapely.Polygon(hole)):
            corner = format_place((float(hole[0][0]), float(hole[0][1])))
            raise BadOutline(
                f"hole {number} (from {corner}) reaches outside the outline",
                hint="move the hole inside, or leave it out and notch the outline",
                field=field,
            )
    if "disconnected" in reason:
        problem, mend = "holes cut the outline in two", "draw two outlines"
    else:
        problem, mend = "two holes overlap", "join them into one hole"
    raise BadOutline(f"{problem} near {place}", hint=mend, field=field)


def only_region(regions: Sequence[Region], *, name: str, hint: str) -> Region:
    """
    The only one of a drawing's regions.

    Args:
        regions: One or more.
        name: The drawing, for the error.
        hint: What to do where there are several.

    Raises:
        BadFile: If there is more than one.
    """
    if len(regions) > 1:
        sizes = ", ".join("{:g} x {:g} mm".format(*region.size_mm) for region in regions[:3])
        raise BadFile(
            f"the drawing holds {len(regions)} outlines ({sizes}{', …' * (len(regions) > 3)})",
            hint=hint,
            field=name,
        )
    return regions[0]
