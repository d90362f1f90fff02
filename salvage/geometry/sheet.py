"""
The distance maps of one or many boards laid out as one long row, for looking up by number.

Each board's rows are *width* apart, wide enough that a shape reaching out to the left or right of
a board meets only empty margin. Lengths are millimetres.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.geometry.distance import DEEPEST_OUTSIDE_MM, UNITS_PER_MM
from salvage.geometry.raster import Frame

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

# Rows and columns of a sheet come in so many, so that it can be cut into cells.
EVEN = 4
OUTSIDE = -int(DEEPEST_OUTSIDE_MM * UNITS_PER_MM)


@dataclass(frozen=True, slots=True)
class Sheet:
    """
    Maps of boards, one after another.

    Args:
        values: All maps, in the units of :mod:`salvage.geometry.distance`.
        width: Numbers from one row to the next.
        frames: Each board's frame.
        starts: The number of each board's pixel (0, 0).
    """

    values: NDArray[np.int16]
    width: int
    frames: tuple[Frame, ...]
    starts: NDArray[np.int64]

    @property
    def step_mm(self) -> float:
        """Width of a pixel, the same for all boards."""
        return self.frames[0].step_mm

    def board_of(self, places: NDArray[np.int64]) -> NDArray[np.int64]:
        """On which board each number lies."""
        import numpy as np

        boards: NDArray[np.int64] = np.searchsorted(self.starts, places, side="right") - 1
        return boards


def lay_out(
    maps: Sequence[NDArray[np.int16]], frames: Sequence[Frame], *, reach_mm: float
) -> Sheet:
    """
    A sheet of maps.

    Args:
        maps: One per board, rows by columns.
        frames: Their frames, all with the same step.
        reach_mm: How far a shape may reach out from its place.
    """
    import numpy as np

    margin = _even(math.ceil(reach_mm / frames[0].step_mm) + 2)
    width = _even(max(frame.columns for frame in frames)) + margin
    rows = np.array([_even(frame.rows) + margin for frame in frames])
    values = np.full((int(rows.sum()) + margin, width), OUTSIDE, dtype=np.int16)
    tops = margin + rows.cumsum() - rows
    for drawn, frame, top in zip(maps, frames, tops, strict=True):
        values[top : top + frame.rows, : frame.columns] = drawn
    return Sheet(values.ravel(), width, tuple(frames), (tops * width).astype(np.int64))


def _even(count: int) -> int:
    return -(-count // EVEN) * EVEN
