"""
Polygons on a grid of pixels.

A pixel is inside when its centre is: drawing libraries also paint the outline, which adds 8 % to
the area of a half-used board at 1 mm (measured), so the rows are scanned here. A frame's pixel
(0, 0) is the lower left one; rows run up, as y does on the board. Lengths are millimetres.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry


@dataclass(frozen=True, slots=True)
class Frame:
    """
    Where a grid of pixels lies.

    Args:
        left_mm: Left edge of the first column.
        bottom_mm: Lower edge of the first row.
        step_mm: Width and height of a pixel.
        columns: Pixels across.
        rows: Pixels up.
    """

    left_mm: float
    bottom_mm: float
    step_mm: float
    columns: int
    rows: int


def frame_round(
    bounds_mm: tuple[float, float, float, float], *, step_mm: float, margin_mm: float
) -> Frame:
    """
    The smallest frame that holds a box and a margin round it, an even number of pixels each way.

    >>> frame_round((0, 0, 10, 5), step_mm=1, margin_mm=2)
    Frame(left_mm=-2, bottom_mm=-2, step_mm=1, columns=14, rows=10)
    """
    left, bottom, right, top = bounds_mm
    columns, rows = (
        2 * math.ceil((far - near + 2 * margin_mm) / (2 * step_mm) - 1e-9)
        for near, far in ((left, right), (bottom, top))
    )
    return Frame(left - margin_mm, bottom - margin_mm, step_mm, columns, rows)


def draw_mask(area: BaseGeometry, frame: Frame) -> NDArray[np.uint8]:
    """
    1 for every pixel whose centre lies in the area (even-odd rule), else 0; rows by columns.

    >>> from shapely import box
    >>> int(draw_mask(box(0, 0, 3, 2), Frame(-1, -1, 0.5, 10, 8)).sum())
    24
    """
    import numpy as np

    ends = _edges(area)
    x1, y1, x2, y2 = (_in_pixels(ends, frame)[:, i] for i in range(4))
    low = np.clip(np.ceil(np.minimum(y1, y2) - 0.5), 0, frame.rows).astype(np.int64)
    high = np.clip(np.ceil(np.maximum(y1, y2) - 0.5), 0, frame.rows).astype(np.int64)
    counts = high - low
    edge = np.repeat(np.arange(len(counts)), counts)
    row = np.arange(counts.sum()) - np.repeat(counts.cumsum() - counts, counts) + low[edge]
    slope = np.divide(x2 - x1, y2 - y1, out=np.zeros_like(x1), where=y1 != y2)
    at = x1[edge] + (row + 0.5 - y1[edge]) * slope[edge]
    column = np.clip(np.ceil(at - 0.5), 0, frame.columns).astype(np.int64)
    wide = frame.columns + 1
    crossings = np.bincount(row * wide + column, minlength=frame.rows * wide)
    flips = (crossings & 1).astype(np.uint8).reshape(frame.rows, wide)
    return np.ascontiguousarray(np.bitwise_xor.accumulate(flips, axis=1)[:, :-1])


def draw_edge(area: BaseGeometry, frame: Frame) -> NDArray[np.uint8]:
    """
    1 along the area's edge: each of its points lies within 1.21 pixels of a marked centre.

    The edge is walked in steps of at most a pixel, so that half a step and half a pixel's diagonal
    come together.
    """
    import numpy as np

    x1, y1, x2, y2 = _in_pixels(_edges(area), frame).T
    counts = np.maximum(1, np.ceil(np.hypot(x2 - x1, y2 - y1))).astype(np.int64)
    edge = np.repeat(np.arange(len(counts)), counts)
    part = (np.arange(counts.sum()) - np.repeat(counts.cumsum() - counts, counts)) / counts[edge]
    column = np.floor(x1[edge] + part * (x2 - x1)[edge]).astype(np.int64)
    row = np.floor(y1[edge] + part * (y2 - y1)[edge]).astype(np.int64)
    seen = (column >= 0) & (column < frame.columns) & (row >= 0) & (row < frame.rows)
    mask = np.zeros((frame.rows, frame.columns), dtype=np.uint8)
    mask[row[seen], column[seen]] = 1
    return mask


def _in_pixels(ends: NDArray[np.float64], frame: Frame) -> NDArray[np.float64]:
    import numpy as np

    corner = [frame.left_mm, frame.bottom_mm, frame.left_mm, frame.bottom_mm]
    moved: NDArray[np.float64] = (ends - np.array(corner)) / frame.step_mm
    return moved


def _edges(area: BaseGeometry) -> NDArray[np.float64]:
    """All edges of all rings, each as x, y, x, y of its ends."""
    import numpy as np
    import shapely

    rings = shapely.get_rings(shapely.get_parts(area))
    points, ring = shapely.get_coordinates(rings, return_index=True)
    same = ring[1:] == ring[:-1]
    edges: NDArray[np.float64] = np.hstack([points[:-1], points[1:]])[same]
    return edges
