"""A board's first outline: from a form factor, a measured size, or a drawing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.errors import BadValue
from salvage.records.region import Region
from salvage.units import from_um
from salvage.work.record import NewKeepOut
from salvage.work.spots import parse_point_um, parse_size_mm

if TYPE_CHECKING:
    from salvage.knowledge.form_factors import Hole

HOLE_KEEP_OUT_MM = 8.0
"""
Diameter kept free round a mounting hole: the hole, its pad and a screw head (common practice, no
source).
"""


@dataclass(frozen=True, slots=True)
class FirstOutline:
    """
    An outline with how it was come by.

    Args:
        region: The edge, its bounding box at the origin.
        outline_from: Words for the record.
        keep_outs: Round the published mounting holes of a form factor.
    """

    region: Region
    outline_from: str
    keep_outs: tuple[NewKeepOut, ...] = ()


def outline_of_form(form: str, *, holes: bool = True, field: str = "--form") -> FirstOutline:
    """
    The nominal outline of a form factor.

    Args:
        form: Its name, as people type it.
        holes: Keep its published mounting holes free.
        field: Label for the error.

    Raises:
        NotFound: If there is no such form factor; with the nearest.
    """
    from salvage.geometry.outline import rectangle
    from salvage.knowledge.form_factors import find_form_factor

    found = find_form_factor(form, field=field)
    region = rectangle(found.width_mm, found.height_mm, corner_mm=found.corner_radius_mm or 0.0)
    keep_outs = tuple(map(_round_hole, found.holes)) if holes else ()
    return FirstOutline(region, f"form factor {found.name}", keep_outs)


def _round_hole(hole: Hole) -> NewKeepOut:
    from salvage.geometry.outline import circle, map_points
    from salvage.units import to_um

    x, y = to_um(hole.x_mm), to_um(hole.y_mm)
    region = map_points(circle(HOLE_KEEP_OUT_MM), lambda point: (point[0] + x, point[1] + y))
    return NewKeepOut(region, f"mounting hole {hole.label}")


def outline_of_size(size: str, *, field: str = "--size") -> FirstOutline:
    """
    A rectangle of a measured size, such as ``175x107``.

    Raises:
        BadValue: If it is no size.
    """
    from salvage.geometry.outline import rectangle

    width_mm, height_mm = parse_size_mm(size, field=field)
    return FirstOutline(rectangle(width_mm, height_mm), "measured width and height")


def outline_of_corners(corners: str, *, field: str = "--corners") -> FirstOutline:
    """
    The outline through corners in order, such as ``0,0 120,0 120,80 0,80``, moved to the origin.

    Raises:
        BadValue: If it is not three places or more.
        BadOutline: If the corners make no outline.
    """
    from salvage.geometry.outline import region_of_points, settle

    points = [parse_point_um(word, field=field) for word in corners.split()]
    if len(points) < 3:
        raise BadValue(
            f"'{corners}' is no outline",
            hint="write three corners or more, such as 0,0 120,0 120,80 0,80",
            field=field,
        )
    region = region_of_points([(from_um(x), from_um(y)) for x, y in points], field=field)
    return FirstOutline(settle(region), "corners")


def outline_of_drawing(data: bytes, *, file_name: str) -> FirstOutline:
    """
    The only outline of an SVG drawing, with its holes, moved to the origin.

    Raises:
        BadFile: If it is no such drawing.
    """
    from salvage.geometry.outline import settle
    from salvage.work.library import outline_of_drawing

    region = settle(outline_of_drawing(data, file_name=file_name))
    return FirstOutline(region, f"drawing {file_name}")
