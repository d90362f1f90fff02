"""
Holes in a board: round ones as circles, slots and cut-outs as they were measured.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.photo.measure.camera import View
from salvage.photo.measure.contour import Heights, lift_rim, refine_rim
from salvage.photo.measure.straighten import straighten

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from salvage.photo.measure.sharpness import Blur

    Floats = NDArray[np.float64]

LEAST_DIAMETER_MM = 1.4
"""Smaller holes are tunnels: the board's thickness hides most of what lies below."""

_LEAST_WINDOW_MM2 = 3.0
_LEAST_CLEAR = 0.6
_ROUND_MM, _ROUND_SHARE = 0.12, 0.05
_CIRCLE_POINTS = 48
_ASPECT_OF_SLOT = 1.15


@dataclass(frozen=True, slots=True)
class FoundHole:
    """
    A hole in the mat frame.

    Args:
        kind: ``round``, ``slot`` or ``window``.
        centre: Its centre in mm.
        diameter_mm: Of a round hole, or of the circle of the same area.
        off_round_mm: How far its rim leaves the best circle, for 95 of 100 points.
        size_mm: Length and width of the narrowest rectangle around it.
        ring: Its rim in mm, clockwise.
    """

    kind: str
    centre: tuple[float, float]
    diameter_mm: float
    off_round_mm: float
    size_mm: tuple[float, float]
    ring: Floats


def measure_hole(
    rgb: NDArray[np.uint8], view: View, rough_mm: Floats, *, heights: Heights, blur: Blur
) -> FoundHole | None:
    """
    One hole, or none where what looks like a hole is not one for certain.

    Args:
        rgb: The photo.
        view: Where places are seen in it.
        rough_mm: Its rim in the grid, at height 0, clockwise.
        heights: Where the board's faces are.
        blur: How the photo softens edges.
    """

    room = _half_width(rough_mm)
    rim = refine_rim(rgb, view, rough_mm, heights=heights, blur=blur, room_mm=room)
    if rim.clear.mean() < _LEAST_CLEAR:
        return None
    places = lift_rim(rim, view, heights)
    centre, radius, off_round = fit_circle(places[rim.clear])
    if not math.isfinite(radius) or radius <= 0:
        return None
    if off_round <= max(_ROUND_MM, _ROUND_SHARE * 2 * radius):
        if 2 * radius < LEAST_DIAMETER_MM:
            return None
        size = (2 * radius, 2 * radius)
        ring = _circle(centre, radius)
        return FoundHole("round", centre, 2 * radius, off_round, size, ring)
    return _window(places, off_round)


def _half_width(ring: Floats) -> float:
    import cv2
    import numpy as np

    _, size, _ = cv2.minAreaRect(ring.astype(np.float32))
    return max(0.2, min(size) / 2)


def _window(places: Floats, off_round: float) -> FoundHole | None:
    import cv2
    import numpy as np
    import shapely

    ring = straighten(places, tolerance_mm=0.05).ring
    shape = shapely.Polygon(ring)
    if not shape.is_valid or shape.area < _LEAST_WINDOW_MM2:
        return None
    _, (a, b), _ = cv2.minAreaRect(ring.astype(np.float32))
    length, width = max(a, b), min(a, b)
    if width < LEAST_DIAMETER_MM / 2:
        return None
    # A slot is a rectangle with half circles at its ends.
    stadium = (length - width) * width + math.pi * width**2 / 4
    is_slot = length > _ASPECT_OF_SLOT * width and abs(shape.area / stadium - 1) < 0.06
    centre = (float(shape.centroid.x), float(shape.centroid.y))
    diameter = 2 * math.sqrt(shape.area / math.pi)
    kind = "slot" if is_slot else "window"
    return FoundHole(kind, centre, diameter, off_round, (float(length), float(width)), ring)


def fit_circle(points: Floats) -> tuple[tuple[float, float], float, float]:
    """
    Centre, radius, and distance that 95 of 100 points keep to the circle; few outliers do no harm.

    Kåsa's linear fit to start with, then weighted Gauss and Newton steps on the distance.
    """
    import numpy as np

    x, y = points[:, 0], points[:, 1]
    matrix = np.column_stack([x, y, np.ones_like(x)])
    a, b, c = np.linalg.lstsq(matrix, x * x + y * y, rcond=None)[0]
    unknown = np.array([a / 2, b / 2, math.sqrt(max(1e-9, c + a * a / 4 + b * b / 4))])
    for _ in range(8):
        dx, dy = x - unknown[0], y - unknown[1]
        reach = np.maximum(np.hypot(dx, dy), 1e-9)
        away = reach - unknown[2]
        scale = max(0.01, 1.5 * float(np.median(np.abs(away))))
        weight = 1 / (1 + (away / (2 * scale)) ** 2)
        slopes = np.column_stack([-dx / reach, -dy / reach, -np.ones_like(reach)])
        normal = (slopes * weight[:, None]).T @ slopes + 1e-9 * np.eye(3)
        unknown = unknown - np.linalg.solve(normal, slopes.T @ (weight * away))
    away = np.abs(np.hypot(x - unknown[0], y - unknown[1]) - unknown[2])
    off_round = float(np.percentile(away, 95))
    return (float(unknown[0]), float(unknown[1])), float(unknown[2]), off_round


def _circle(centre: tuple[float, float], radius: float) -> Floats:
    """A clockwise ring of the circle's own area."""
    import numpy as np

    # The area of a regular polygon of n corners is n/2 · sin(2π/n) · r².
    step = 2 * math.pi / _CIRCLE_POINTS
    wide = radius * math.sqrt(step / math.sin(step))
    angles = -np.arange(_CIRCLE_POINTS) * step
    return np.stack([centre[0] + wide * np.cos(angles), centre[1] + wide * np.sin(angles)], axis=1)
