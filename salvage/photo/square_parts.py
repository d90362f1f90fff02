"""
A hint where a large square part stands: usually the finest pattern of a board lies beneath it.

Makers start with the area under the processor (common practice, no source).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeAlias

from salvage.frozen import dataclass

if TYPE_CHECKING:
    import numpy.typing as npt

# Levels and slopes pass through several depths of number on their way.
Array: TypeAlias = "npt.NDArray[Any]"

_PART_MM = (8.0, 45.0)
_PART_ASPECT = 1.25
_PART_FILLED = 0.86
_PARTS = 4

# Slope at a part's rim, in levels.
_RIM_STEP = 36

# Edges are this thick when plain patches are parted: letters on a part do not tear it.
_WALL_MM = 0.35

# Levels by which a part differs from the board in one colour at least.
_OTHER_COLOUR = 12


@dataclass(frozen=True, slots=True)
class SquarePart:
    """
    A large, plain, square part: usually the finest pattern lies beneath it.

    Args:
        x_mm: Its middle in board coordinates.
        y_mm: The same, from the bottom.
        side_mm: Mean of its two sides.
    """

    x_mm: float
    y_mm: float
    side_mm: float


def find_square_parts(
    picture: Array, slopes: tuple[Array, Array], board: Array, *, px_per_mm: float
) -> tuple[SquarePart, ...]:
    """
    Plain, nearly square patches between edges, of another colour than the board; largest first.

    Args:
        picture: Levels of the squared-up board, height x width x 3.
        slopes: How fast its grey rises across and down, in sixteenths of a level, as int16.
        board: Which pixels are board.
        px_per_mm: Scale of all three.
    """
    import cv2
    import numpy as np

    size = max(3, round(_WALL_MM * px_per_mm) | 1)
    edges = cv2.Canny(slopes[0], slopes[1], 16 * _RIM_STEP / 3, 16 * _RIM_STEP)
    walls = cv2.dilate(edges, np.ones((size, size), np.uint8))
    plain = ((walls == 0) & board).astype(np.uint8)
    _, labels, stats, _ = cv2.connectedComponentsWithStats(plain, connectivity=4)
    usual = np.median(picture[board][::17], axis=0) if board.any() else np.zeros(3)
    least_px = 0.8 * _PART_MM[0] * px_per_mm
    parts = []
    for label in np.flatnonzero(stats[:, 2:4].min(axis=1) >= least_px):
        left, top, wide, high = (int(value) for value in stats[label][:4])
        there = np.s_[top : top + high, left : left + wide]
        patch = labels[there] == label
        colour = np.median(picture[there][patch][::5], axis=0)
        if label and np.abs(colour - usual).max() >= _OTHER_COLOUR:
            square = _square_of(patch, size, px_per_mm)
            if square:
                x, y, side = square
                x_mm, y_mm = left / px_per_mm + x, (picture.shape[0] - top) / px_per_mm - y
                parts.append(SquarePart(x_mm, y_mm, side))
    return tuple(sorted(parts, key=lambda part: -part.side_mm)[:_PARTS])


def _square_of(patch: Array, wall_px: int, px_per_mm: float) -> tuple[float, float, float] | None:
    """Middle and side of a patch in mm, from its upper left, if it is nearly a square."""
    import cv2
    import numpy as np

    rims, _ = cv2.findContours(patch.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    rim = max(rims, key=cv2.contourArea)
    (x, y), (a, b), _ = cv2.minAreaRect(rim)
    filled = cv2.contourArea(rim) / max(a * b, 1.0)
    side = float(np.mean((a, b)) + wall_px) / px_per_mm
    is_square = max(a, b) <= _PART_ASPECT * min(a, b) and filled >= _PART_FILLED
    is_part = is_square and _PART_MM[0] <= side <= _PART_MM[1]
    return ((x + 0.5) / px_per_mm, (y + 0.5) / px_per_mm, side) if is_part else None
