"""
Other ways to ask what fits, to judge the engine by: correlation of pixels at fixed angles.

Nothing here uses the engine's maps, discs or search. Lengths are millimetres.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np
import shapely
from shapely import affinity

from salvage.geometry.outline import to_polygon
from salvage.geometry.overlay import polygon_parts

if TYPE_CHECKING:
    from shapely import MultiPolygon, Polygon
    from shapely.geometry.base import BaseGeometry

    from salvage.geometry.spot import Spot
    from tests.benchmarks.boards import MadeBoard

# A pose with more of the shape off the ground than this is beyond mending by small moves.
_HOPELESS = 0.05
_SHRINK = 4  # sub-pixel bits of the drawing library


@dataclass(frozen=True, slots=True)
class Found:
    """
    What correlation found.

    Args:
        fits: Whether some pose was shown to fit on the outline.
        tried: How many poses were looked at on the outline.
    """

    fits: bool
    tried: int


def correlate(
    shape: Polygon, area: MultiPolygon, *, step_mm: float, angles: int, most: int = 10
) -> Found:
    """
    Look for a fit at equal angles and every pixel, the least overlapping poses first.

    Each of the best *most* poses is mended by small moves on the outline.

    Args:
        shape: The shape with its clearance, about any origin.
        area: The ground.
        step_mm: Width of a pixel.
        angles: Angles in a full turn.
        most: How many poses to mend.
    """
    if area.is_empty:
        return Found(False, 0)
    blocked, left, bottom = _blocked(area, step_mm)
    poses: list[tuple[float, float, float, float]] = []
    for number in range(angles):
        angle = 360 * number / angles
        turned = affinity.rotate(shape, angle, origin=(0, 0))
        mask, dx, dy = _painted(turned, step_mm)
        if mask.shape[0] > blocked.shape[0] or mask.shape[1] > blocked.shape[1]:
            continue
        over = cv2.matchTemplate(blocked, mask, cv2.TM_CCORR)
        least, _, (column, row), _ = cv2.minMaxLoc(over)
        poses.append((least, left + column * step_mm - dx, bottom + row * step_mm - dy, angle))
    poses.sort()
    shapely.prepare(area)
    tried = 0
    for over_px, x_mm, y_mm, angle in poses[:most]:
        if over_px * step_mm**2 > _HOPELESS * shape.area:
            break
        tried += 1
        if _mended(shape, area, x_mm, y_mm, angle):
            return Found(True, tried)
    return Found(False, tried)


def is_clear(spot: Spot, board: MadeBoard, *, kerf_mm: float, clearance_mm: float) -> bool:
    """
    Whether a piece keeps its distances, measured with nothing but the library's distance.

    Two micrometres are granted for rounding, as among conflicts.
    """
    piece = to_polygon(spot.region)
    edge = to_polygon(board.outline)
    if not edge.covers(piece) or edge.boundary.distance(piece) < clearance_mm - 0.002:
        return False
    for item in board.taken:
        room = clearance_mm + (item.kerf_um / 1000 if item.kind == "cut" else kerf_mm)
        if to_polygon(item.region).distance(piece) < room - 0.002:
            return False
    return True


def _blocked(area: MultiPolygon, step_mm: float) -> tuple[np.ndarray, float, float]:
    """1 where there is no ground, with a narrow margin."""
    # A pose that fits lies within the ground, so the picture need not reach farther.
    margin = 2.0
    left, bottom, right, top = area.bounds
    left, bottom = left - margin, bottom - margin
    size = (
        math.ceil((top + margin - bottom) / step_mm),
        math.ceil((right + margin - left) / step_mm),
    )
    picture = np.zeros(size, dtype=np.uint8)
    for part in polygon_parts(area):
        rings = [_pixels(ring, left, bottom, step_mm) for ring in shapely.get_rings(part)]
        cv2.fillPoly(picture, rings, 1, shift=_SHRINK)
    return (1 - picture).astype(np.float32), left, bottom


def _painted(shape: Polygon, step_mm: float) -> tuple[np.ndarray, float, float]:
    """The shape in pixels, and where its origin lies from the corner."""
    left, bottom, right, top = shape.bounds
    size = math.ceil((top - bottom) / step_mm) + 1, math.ceil((right - left) / step_mm) + 1
    picture = np.zeros(size, dtype=np.uint8)
    rings = [_pixels(ring, left, bottom, step_mm) for ring in shapely.get_rings(shape)]
    cv2.fillPoly(picture, rings, 1, shift=_SHRINK)
    # The drawing paints the outline too; half a pixel less all round is nearer the truth.
    thinner = cv2.erode(picture, np.ones((2, 2), np.uint8))
    return (thinner if thinner.any() else picture).astype(np.float32), left, bottom


def _pixels(ring: BaseGeometry, left: float, bottom: float, step_mm: float) -> np.ndarray:
    points = (shapely.get_coordinates(ring) - [left, bottom]) / step_mm - 0.5
    pixels: np.ndarray = np.round(points * 2**_SHRINK).astype(np.int32)
    return pixels


def _mended(shape: Polygon, area: MultiPolygon, x_mm: float, y_mm: float, angle: float) -> bool:
    """Whether small moves bring the whole shape onto the ground: less overlap at every step."""
    at = (x_mm, y_mm, angle)
    near = area.intersection(shapely.box(*_moved(shape, at).buffer(4).bounds))
    shapely.prepare(near)
    over = _overlap(shape, near, at)
    step = 0.4
    reach = max(1.0, math.hypot(*shape.bounds[2:]))
    while over > 0 and step > 0.04:
        tries = [
            (at[0] + dx * step, at[1] + dy * step, at[2] + math.degrees(turn * step / reach))
            for dx, dy, turn in _MOVES
        ]
        overlaps = [_overlap(shape, near, tried) for tried in tries]
        best = min(range(len(tries)), key=overlaps.__getitem__)
        if overlaps[best] < 0.9 * over:
            at, over = tries[best], overlaps[best]
        else:
            step /= 2
    return over == 0 and area.covers(_moved(shape, at))


_MOVES = [(1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1)]


def _overlap(shape: Polygon, area: BaseGeometry, at: tuple[float, float, float]) -> float:
    moved = _moved(shape, at)
    return 0.0 if area.covers(moved) else float(moved.difference(area).area)


def _moved(shape: Polygon, at: tuple[float, float, float]) -> BaseGeometry:
    return affinity.translate(affinity.rotate(shape, at[2], origin=(0, 0)), at[0], at[1])
