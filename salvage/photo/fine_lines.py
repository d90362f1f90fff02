"""
Edges of fine lines in a picture, counted though they are faint.

A field of traces finer than the photo can part shows as a faint hatch below the grain. Smoothed
along a direction, a line stays and grain goes, so each of four directions is looked at by itself,
and an edge counts where the smoothed picture changes its sign across, clear of the grain and
strongest in that direction. Traces run level, upright or slanting by half a right angle; others are
seen by the nearest direction.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, TypeAlias

if TYPE_CHECKING:
    import numpy.typing as npt

# Levels and responses pass through several depths of number on their way.
Array: TypeAlias = "npt.NDArray[Any]"

# Found on drawn boards of the seeds for calibration; the share of right places hardly changes
# between half and twice of each.
_SMOOTH_MM, _SLOW_MM = 0.05, 0.2
_ALONG_MM = 2.0
_MOST_LEVELS = 12.0
_GRAINS, _LEAST_LEVELS = 2.2, 0.15
_OF_THE_STRONGEST = 0.9

_WAYS = 4


def fine_edges(grey: Array, board: Array, *, px_per_mm: float) -> Array:
    """
    Pixels on an edge of a line.

    Args:
        grey: Levels, height x width.
        board: Which pixels are board; grain is judged there.
        px_per_mm: Scale of both.
    """
    import cv2
    import numpy as np

    level = grey.astype(np.float32)
    sharp = cv2.GaussianBlur(level, (0, 0), max(0.3, _SMOOTH_MM * px_per_mm))
    slow = cv2.GaussianBlur(level, (0, 0), _SLOW_MM * px_per_mm)
    # Pads, silk and glare are many times stronger than traces, and would drown them.
    relief = np.clip(sharp - slow, -_MOST_LEVELS, _MOST_LEVELS)
    along = [cv2.filter2D(relief, -1, _stroke(way, px_per_mm)) for way in range(_WAYS)]
    sizes = [np.abs(one) for one in along]
    if not board.any():
        return np.zeros(grey.shape, bool)
    grain = min(float(np.median(size[board][::3])) for size in sizes)
    least = max(_GRAINS * grain, _LEAST_LEVELS)
    strongest = np.max(sizes, axis=0)
    found = np.zeros(grey.shape, bool)
    for way, one in enumerate(along):
        found |= _changes(one, strongest, _across(way), least)
    return found


def _stroke(way: int, px_per_mm: float) -> Array:
    """A line through the middle of a square, its weights adding up to 1."""
    import cv2
    import numpy as np

    size = round(_ALONG_MM * px_per_mm) | 1
    angle, half = math.pi * way / _WAYS, size // 2
    across, down = half * math.cos(angle), -half * math.sin(angle)
    kernel = np.zeros((size, size), np.float32)
    ends = [(round(half + k * across), round(half + k * down)) for k in (-1, 1)]
    cv2.line(kernel, ends[0], ends[1], 1.0, 1, cv2.LINE_8)
    weighed: Array = kernel / kernel.sum()
    return weighed


def _across(way: int) -> tuple[int, int]:
    """One step down and one to the right that lead across a line of this direction."""
    angle = math.pi * way / _WAYS
    return -round(math.cos(angle)), -round(math.sin(angle))


def _changes(one: Array, strongest: Array, step: tuple[int, int], least: float) -> Array:
    """Where a direction's response changes its sign across, clear of the grain on both sides."""
    import numpy as np

    def at(picture: Array, times: int) -> Array:
        return np.roll(picture, (-times * step[0], -times * step[1]), (0, 1))

    size = np.abs(one)
    near = np.maximum(size, at(size, -1))
    far = np.maximum(at(size, 1), at(size, 2))
    most = np.maximum(strongest, at(strongest, -1))
    changes: Array = (
        (one * at(one, 1) < 0) & (near > least) & (far > least) & (near >= _OF_THE_STRONGEST * most)
    )
    return changes
