"""
Rings of straight steps from the paths of a drawing.

Works in the drawing library's pixels; :mod:`salvage.geometry.svg` turns them into millimetres.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from typing import Any

from salvage.errors import BadFile
from salvage.geometry.arcs import PointMm

MOST_POINTS = 20_000

# A drawing may lie anywhere, but beyond this the last digits no longer hold a micrometre.
_FARTHEST_MM = 1e8

Place = Callable[[float, float], PointMm]


def rings_of_path(
    path: Any,  # svgelements.Path; the library has no types
    *,
    place: Place,
    tolerance: float,
    most_points: int = MOST_POINTS,
    before: int = 0,
) -> list[list[PointMm]]:
    """
    The closed rings of a path.

    Args:
        path: A path of the drawing library, with its transforms applied.
        place: Millimetres of a place in pixels.
        tolerance: Largest distance of a straight step from its curve, in pixels.
        most_points: Refuse more points than this.
        before: Points of other paths, which count too.

    Raises:
        BadFile: If a line is open, a coordinate is no number, or there are too many points.
    """
    rings = []
    left = most_points - before
    for segments in _subpaths(path):
        points: list[PointMm] = []
        for segment in segments:
            steps = _count_steps(segment, tolerance)
            left -= steps
            if left < 0:
                raise BadFile(
                    f"the drawing has more than {most_points} points",
                    hint="simplify its paths in the drawing program",
                )
            points += [_point_on(segment, (i + 1) / steps, place) for i in range(steps)]
        rings.append(points)
    return rings


def _subpaths(path: Any) -> Iterator[list[Any]]:
    """Segments of each closed line; moves and lines without length are left out."""
    segments: list[Any] = []
    closed = False
    for segment in path:
        kind = type(segment).__name__
        if kind == "Move" or closed:
            yield from _closed(segments, closed)
            segments, closed = [], False
        if kind != "Move":
            segments.append(segment)
            closed = kind == "Close"
    yield from _closed(segments, closed)


def _closed(segments: list[Any], closed: bool) -> Iterator[list[Any]]:
    if not segments:
        return
    start, end = segments[0].start, segments[-1].end
    if start is None or end is None:
        raise BadFile("a path of the drawing begins nowhere", hint="export it again")
    if not closed and not _same_place(start, end):
        raise BadFile(
            "the drawing has an open line, so there is no inside",
            hint="close every path in the drawing program, and remove guide lines",
        )
    yield segments


def _same_place(start: Any, end: Any) -> bool:
    # A hundredth of a pixel is a quarter of a hundredth of a millimetre: closed but for rounding.
    return math.hypot(start.x - end.x, start.y - end.y) <= 0.01


def _count_steps(segment: Any, tolerance: float) -> int:
    """
    Straight steps for one segment.

    Over a step h of its parameter, a curve strays from the chord by at most h² / 8 times its
    largest second derivative.
    """
    bend = _bend(segment)
    if not math.isfinite(bend):
        raise BadFile("the drawing has a coordinate that is no number", hint="export it again")
    return max(1, min(MOST_POINTS + 1, math.ceil(math.sqrt(bend / (8 * tolerance)))))


def _bend(segment: Any) -> float:
    """Largest second derivative of a segment over its parameter from 0 to 1."""
    kind = type(segment).__name__
    if kind == "Arc":
        return float(max(segment.rx, segment.ry) * segment.sweep**2)
    if kind == "QuadraticBezier":
        return 2 * _kink(segment.start, segment.control, segment.end)
    if kind == "CubicBezier":
        first = _kink(segment.start, segment.control1, segment.control2)
        return 6 * max(first, _kink(segment.control1, segment.control2, segment.end))
    return 0.0


def _kink(a: Any, b: Any, c: Any) -> float:
    return math.hypot(a.x - 2 * b.x + c.x, a.y - 2 * b.y + c.y)


def _point_on(segment: Any, t: float, place: Place) -> PointMm:
    point = segment.end if t == 1 else segment.point(t)
    x, y = place(float(point.x), float(point.y))
    if not (math.isfinite(x) and math.isfinite(y)):
        raise BadFile("the drawing has a coordinate that is no number", hint="export it again")
    if abs(x) + abs(y) > _FARTHEST_MM:
        raise BadFile("the drawing has a coordinate that is out of range", hint="export it again")
    return x, y


def count_points(rings: Sequence[Sequence[PointMm]]) -> int:
    """Points of all rings."""
    return sum(len(ring) for ring in rings)
