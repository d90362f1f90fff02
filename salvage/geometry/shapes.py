"""
Plain shapes that need no drawing.

Each is drawn to a width and, where it makes sense, a height, and lies with the middle of its
bounding box on the origin. Sizes are millimetres.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from salvage.errors import BadValue, NotFound
from salvage.geometry.arcs import PointMm, arc_steps, round_ring
from salvage.geometry.outline import centre, check_size, circle, rectangle, region_of_mm
from salvage.records.region import Region

# A hole that takes a 1 mm jump ring or a cord, and the material round it that keeps fibreglass
# board from breaking out (common practice, no source).
HANGING_HOLE_MM = 2.5
HANGING_WALL_MM = 2.0


@dataclass(frozen=True, slots=True)
class BuiltInShape:
    """
    A plain shape that can be drawn to any size.

    Args:
        name: What people type.
        description: What it looks like, in a few words.
        proportion: Height for a width of 1, when no height is given.
        round_only: True if it is always as high as wide.
        draw: Region for a width and a height in mm, centred by :func:`built_in_shape`.
    """

    name: str
    description: str
    proportion: float
    round_only: bool
    draw: Callable[[float, float], Region]


def built_in_shape(name: str, *, width_mm: float, height_mm: float | None = None) -> Region:
    """
    A plain shape, the middle of its bounding box on the origin.

    Args:
        name: A key of :data:`BUILT_IN_SHAPES`; any case, blanks or underscores for hyphens.
        width_mm: Width of the bounding box.
        height_mm: Its height; by the shape's own proportion if left out.

    Raises:
        NotFound: If there is no such shape; the nearest names are offered.
        BadValue: If the size is out of range or the shape does not work at that size.

    >>> built_in_shape("Oval", width_mm=40, height_mm=25).size_mm
    (40.0, 25.0)
    """
    key = "-".join(name.lower().replace("_", " ").replace("-", " ").split())
    if key not in BUILT_IN_SHAPES:
        nearest = difflib.get_close_matches(key, BUILT_IN_SHAPES, n=3, cutoff=0.4)
        raise NotFound(f"'{name}' is no built-in shape", nearest=nearest or sorted(BUILT_IN_SHAPES))
    shape = BUILT_IN_SHAPES[key]
    height = width_mm * shape.proportion if height_mm is None else height_mm
    check_size(width_mm, "width")
    check_size(height, "height")
    if shape.round_only and not math.isclose(width_mm, height, abs_tol=0.001):
        raise BadValue(
            f"a {shape.name} of {width_mm:g} x {height:g} mm is not round",
            hint="leave the height out, or take an oval",
        )
    return centre(shape.draw(width_mm, height))


def _draw_circle(width_mm: float, height_mm: float) -> Region:
    return circle(width_mm)


def _draw_ring(width_mm: float, height_mm: float) -> Region:
    return region_of_mm(round_ring(width_mm), [round_ring(width_mm / 2)])


def _draw_oval(width_mm: float, height_mm: float) -> Region:
    return region_of_mm(_oval_ring(width_mm, height_mm))


def _draw_half_moon(width_mm: float, height_mm: float) -> Region:
    ring = _oval_ring(width_mm, 2 * height_mm)
    return region_of_mm(ring[: len(ring) // 2 + 1])


def _draw_tag(width_mm: float, height_mm: float) -> Region:
    """A tag with corners of an eighth of its shorter side and a hanging hole at the top."""
    corner = min(width_mm, height_mm) / 8
    body = rectangle(width_mm, height_mm, corner_mm=corner)
    hole_at = height_mm - HANGING_WALL_MM - HANGING_HOLE_MM / 2
    _check_room(min(width_mm, height_mm), "rounded tag")
    return Region(body.outer, (_hanging_hole(width_mm / 2, hole_at),))


def _draw_teardrop(width_mm: float, height_mm: float) -> Region:
    return region_of_mm(_drop_ring(width_mm, height_mm))


def _draw_hanging_teardrop(width_mm: float, height_mm: float) -> Region:
    """A drop with a hole on its axis, as high as the wall to both flanks allows."""
    _check_room(width_mm, "hanging teardrop")
    apex = height_mm - width_mm / 2
    half_angle = math.asin(width_mm / 2 / apex)
    hole_at = apex - (HANGING_WALL_MM + HANGING_HOLE_MM / 2) / math.sin(half_angle)
    body = region_of_mm(_drop_ring(width_mm, height_mm))
    return Region(body.outer, (_hanging_hole(0.0, hole_at),))


def _oval_ring(width_mm: float, height_mm: float) -> list[PointMm]:
    larger = max(width_mm, height_mm)
    fx, fy = width_mm / larger, height_mm / larger
    return [(x * fx, y * fy) for x, y in round_ring(larger)]


def _drop_ring(width_mm: float, height_mm: float) -> list[PointMm]:
    """A round bottom about the origin and two tangents that meet in a point above it."""
    radius = width_mm / 2
    apex = height_mm - radius
    if apex <= radius * 1.05:
        raise BadValue(
            f"a teardrop of {width_mm:g} x {height_mm:g} mm has no point",
            hint=f"make it higher than {1.05 * width_mm:g} mm",
        )
    lean = math.asin(radius / apex)  # the tangents touch at this angle above the horizontal
    ring = round_ring(width_mm)
    steps = arc_steps(radius, lean)
    angles = [lean * (index + 1) / steps for index in range(steps)]
    right = [(radius * math.cos(angle), radius * math.sin(angle)) for angle in angles]
    left = [(-x, y) for x, y in reversed(right)]
    return [*ring[len(ring) // 2 :], ring[0], *right, (0.0, apex), *left]


def _hanging_hole(x_mm: float, y_mm: float) -> tuple[tuple[int, int], ...]:
    hole = [(x_mm + x, y_mm + y) for x, y in round_ring(HANGING_HOLE_MM)]
    return region_of_mm(hole).outer


def _check_room(width_mm: float, name: str) -> None:
    least = HANGING_HOLE_MM + 2 * HANGING_WALL_MM
    if width_mm < least:
        raise BadValue(
            f"a {name} {width_mm:g} mm wide is too small for its hanging hole",
            hint=f"at least {least:g} mm",
        )


_ALL = (
    BuiltInShape("circle", "round disc", 1.0, True, _draw_circle),
    BuiltInShape("ring", "round disc with a hole of half its width", 1.0, True, _draw_ring),
    BuiltInShape("rectangle", "rectangle with sharp corners", 1.0, False, rectangle),
    BuiltInShape("rounded-tag", "upright tag with a hanging hole", 1.6, False, _draw_tag),
    BuiltInShape("teardrop", "drop with its point up", 1.5, False, _draw_teardrop),
    BuiltInShape(
        "hanging-teardrop", "drop with a hanging hole", 1.5, False, _draw_hanging_teardrop
    ),
    BuiltInShape("oval", "ellipse", 1.4, False, _draw_oval),
    BuiltInShape("half-moon", "half disc, round side up", 0.5, False, _draw_half_moon),
)

# The shapes by name, in the order to list them.
BUILT_IN_SHAPES: Mapping[str, BuiltInShape] = MappingProxyType({s.name: s for s in _ALL})
