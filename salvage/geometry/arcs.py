"""
How many straight steps a curve needs, and the plain circle made of them.

Lengths are millimetres.
"""

from __future__ import annotations

import math

# The furthest a straight step may lie from the curve it stands for: finer than a small router
# holds (about 0.05 mm; common practice, no source), coarse enough that a 75 mm circle needs only
# about a hundred points.
FLATTENING_MM = 0.02

PointMm = tuple[float, float]


def arc_steps(radius_mm: float, angle: float, *, tolerance_mm: float = FLATTENING_MM) -> int:
    """
    Straight steps that keep an arc within the tolerance (height of the arc over its chord).

    Args:
        radius_mm: Radius; for an ellipse, its longer half axis.
        angle: Angle of the arc in radians, of any sign.
        tolerance_mm: Largest distance between arc and chord.

    >>> arc_steps(10, 2 * math.pi)
    50
    """
    if radius_mm <= tolerance_mm:
        return max(1, math.ceil(abs(angle) / (math.pi / 2)))
    step = 2 * math.acos(1 - tolerance_mm / radius_mm)
    return max(1, math.ceil(abs(angle) / step))


def round_ring(diameter_mm: float) -> list[PointMm]:
    """
    A circle about the origin: true in width, in height and in area.

    The four outermost points lie on the circle, so that the ring measures the diameter across.
    The others lie outside it by less than the tolerance, just so far that the area is that of
    the circle. Counter-clockwise from the rightmost point; a multiple of four points.

    >>> ring = round_ring(20)
    >>> ring[0]
    (10.0, 0.0)
    """
    radius = diameter_mm / 2
    quarter = max(4, math.ceil(arc_steps(radius, 2 * math.pi) / 4))
    count = 4 * quarter
    step = 2 * math.pi / count
    # Eight of the triangles from the centre have one corner at the true radius r and one at R:
    # area = sin(step) / 2 * (8 r R + (count - 8) R R) = pi r r, solved for R / r.
    wanted = 2 * math.pi / math.sin(step)
    ratio = (math.sqrt(16 + (count - 8) * wanted) - 4) / (count - 8)
    reach = [radius if index % quarter == 0 else radius * ratio for index in range(count)]
    return [
        (reach[index] * math.cos(index * step), reach[index] * math.sin(index * step))
        for index in range(count)
    ]
