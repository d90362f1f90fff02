"""
A map twice as fine of just the window in which a question is still open. Lengths are millimetres.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from salvage.geometry.distance import draw_distance
from salvage.geometry.ground import Ground
from salvage.geometry.raster import Frame
from salvage.geometry.search import Cells
from salvage.geometry.sheet import Sheet, lay_out

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from salvage.geometry.probes import Probes

# More than any slack of cells of a pixel: nothing that a disc meets is cut off by the window.
_AROUND_MM = 2.0


def magnify(
    ground: Ground,
    sheet: Sheet,
    cells: Cells,
    *,
    probes: Probes,
    clearance_mm: float,
    most_pixels: int,
) -> tuple[Sheet, Cells] | None:
    """
    The finer sheet, and the cells on it; nothing if it would be too large.

    Args:
        ground: The board.
        sheet: The map on which the cells lie; one board.
        cells: Single pixels that are open still. On the finer sheet they are two pixels wide.
        probes: The shape.
        clearance_mm: Room round it.
        most_pixels: How large the window may be.
    """
    import numpy as np

    around = float((np.hypot(probes.xs, probes.ys) + probes.radii).max()) + clearance_mm
    margin = math.ceil((around + _AROUND_MM) / sheet.step_mm)
    row, column = np.divmod(cells.places - sheet.starts[0], sheet.width)
    whole = sheet.frames[0]
    left, right = _span(column, margin, whole.columns)
    bottom, top = _span(row, margin, whole.rows)
    window = Frame(
        left_mm=whole.left_mm + left * whole.step_mm,
        bottom_mm=whole.bottom_mm + bottom * whole.step_mm,
        step_mm=whole.step_mm / 2,
        columns=2 * (right - left),
        rows=2 * (top - bottom),
    )
    if window.columns * window.rows > most_pixels:
        return None
    drawn = draw_distance(ground.area, window)
    finer = lay_out([drawn], [window], reach_mm=probes.reach_mm + 1.0)
    places = finer.starts[0] + 2 * (row - bottom) * finer.width + 2 * (column - left)
    return finer, Cells(places, cells.turns)


def _span(numbers: NDArray[np.int64], margin: int, most: int) -> tuple[int, int]:
    return max(0, int(numbers.min()) - margin), min(most, int(numbers.max()) + 1 + margin)
