"""
The one true form of a ring, and what can be wrong with one.

A tidy ring runs counter-clockwise (a hole: clockwise), starts at its leftmost, then lowest point,
and repeats no point. Two regions that cover the same ground with the same corners are then equal.
Coordinates are whole micrometres; messages speak of millimetres.
"""

from __future__ import annotations

import re

from salvage.errors import BadOutline
from salvage.records.region import Point, Region, Ring, twice_area

# Nothing in the workshop is larger: a sheet of board material is at most about 1.2 x 1.1 m
# (common practice, no source), and typing cm for mm is caught.
MOST_MM = 2000.0

_PLACE = re.compile(r"\[(\S+) (\S+)\]")


def tidy_ring(ring: Ring, *, hole: bool = False) -> Ring:
    """
    The ring without repeated neighbours, in its direction, from its leftmost lowest point on.

    >>> tidy_ring(((5, 5), (5, 0), (0, 0), (0, 0), (0, 5), (5, 5)))
    ((0, 0), (5, 0), (5, 5), (0, 5))
    """
    points = [point for index, point in enumerate(ring) if point != ring[index - 1]]
    if not points:
        return tuple(ring[:1])
    if (twice_area(tuple(points)) > 0) == hole:
        points.reverse()
    start = points.index(min(points))
    return (*points[start:], *points[:start])


def tidy_region(region: Region) -> Region:
    """The region with every ring tidy and the holes in order."""
    holes = sorted(tidy_ring(hole, hole=True) for hole in region.holes)
    return Region(tidy_ring(region.outer), tuple(holes))


def check_ring(ring: Ring, *, name: str, field: str = "") -> None:
    """
    Raise unless the tidy ring has three corners, an area, a sane size, and does not cross itself.

    Args:
        ring: A tidy ring.
        name: What to call it in the message, such as ``the outline`` or ``hole 2``.
        field: Label for the error.

    Raises:
        BadOutline: If it is not so.
    """
    if len(set(ring)) < 3:
        raise BadOutline(
            f"{name} has only {len(set(ring))} different points",
            hint="give at least 3 corners",
            field=field,
        )
    _check_size(ring, name=name, field=field)
    if _on_one_line(ring):
        raise BadOutline(
            f"{name} has no area, all its points lie on one line",
            hint="give corners that enclose something",
            field=field,
        )
    crossing = find_crossing(ring)
    if crossing:
        raise BadOutline(
            f"{name} crosses or touches itself near {format_place(crossing)}",
            hint="mend the corners there, or give them in order round the edge",
            field=field,
        )


def find_crossing(ring: Ring) -> tuple[float, float] | None:
    """A place, in µm, where the ring crosses or touches itself; None if it nowhere does."""
    import shapely

    polygon = shapely.Polygon(ring)
    return None if polygon.is_valid else place_of_reason(shapely.is_valid_reason(polygon))


def place_of_reason(reason: str) -> tuple[float, float]:
    """The coordinates in the geometry library's words, such as ``Self-intersection[5 5]``."""
    place = _PLACE.search(reason)
    return (float(place[1]), float(place[2])) if place else (0.0, 0.0)


def format_place(place_um: tuple[float, float]) -> str:
    """
    A place as people read it.

    >>> format_place((12300.0, 4500.0))
    'x 12.3 mm, y 4.5 mm'
    """
    x, y = (f"{value / 1000:.2f}".rstrip("0").rstrip(".") for value in place_um)
    return f"x {x} mm, y {y} mm"


def _check_size(ring: Ring, *, name: str, field: str) -> None:
    width, height = Region(ring).size_mm
    if max(width, height) > MOST_MM:
        raise BadOutline(
            f"{name} is {width:g} x {height:g} mm",
            hint=f"at most {MOST_MM:g} mm each way; check the unit",
            field=field,
        )


def _on_one_line(ring: Ring) -> bool:
    first, second, *others = dict.fromkeys(ring)
    return all(_cross(first, second, point) == 0 for point in others)


def _cross(a: Point, b: Point, c: Point) -> int:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
