"""
The map of how densely traces run over a board's side, and how it answers for a place.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.frozen import dataclass

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    from salvage.photo.square_parts import SquarePart
    from salvage.records.region import Region

CELLS_PER_MM = 2.0
"""Fineness of a map: finer than anything a hand would cut by."""


@dataclass(frozen=True, slots=True)
class RichPlace:
    """
    Middle of a window with many edges.

    Args:
        x_mm: In board coordinates, from the left.
        y_mm: In board coordinates, from the bottom.
        density: Length of edges for each mm2, in mm.
        richer_than: Share of the places that come into question that have fewer edges, 0 to 1.
    """

    x_mm: float
    y_mm: float
    density: float
    richer_than: float = 0.0


@dataclass(frozen=True, slots=True)
class RichnessMap:
    """
    How many edges are seen round each place of a board's side.

    Args:
        levels: One byte for each cell, rows from the top, 0 where nothing is seen.
        columns: Cells in a row.
        rows: Rows of cells.
        density_per_level: Length of edges in mm for each mm2 that one level stands for.
        window_mm: Side of the square that was counted round each cell.
        places: The densest windows that do not overlap, densest first.
        parts: Large square parts, largest first.
        fine: One byte for each cell as in *levels*, but of what is seen in the cell alone; where
            glare hides the cell, of the window round it.
        fine_per_level: What one level of *fine* stands for, in mm for each mm2.
    """

    levels: bytes
    columns: int
    rows: int
    density_per_level: float
    window_mm: float
    places: tuple[RichPlace, ...]
    parts: tuple[SquarePart, ...]
    fine: bytes
    fine_per_level: float

    def density_at(self, x_mm: float, y_mm: float) -> float:
        """Length of edges for each mm2 round a place; 0 outside the map."""
        column, row = int(x_mm * CELLS_PER_MM), self.rows - 1 - int(y_mm * CELLS_PER_MM)
        if not (0 <= column < self.columns and 0 <= row < self.rows and min(x_mm, y_mm) >= 0):
            return 0.0
        return self.levels[row * self.columns + column] * self.density_per_level

    def values(self) -> npt.NDArray[np.float64]:
        """
        Length of edges for each mm2 in each cell alone, rows from below, columns from the left.

        A cell is 1 / :data:`CELLS_PER_MM` wide; the first begins at the board's lower left corner.
        """
        import numpy as np

        cells = np.frombuffer(self.fine, np.uint8).reshape(self.rows, self.columns)
        rising: npt.NDArray[np.float64] = cells[::-1].astype(np.float64) * self.fine_per_level
        return rising

    def mean_over(self, region: Region) -> float:
        """Mean length of edges for each mm2 under a region; what lies off the board counts 0."""
        import cv2
        import numpy as np

        finer = 4  # parts of a cell that the region's edge is drawn to
        scale = CELLS_PER_MM * finer / 1000
        left, bottom, right, top = region.bounds_um
        origin = np.array([int(left * scale) - 1, int(bottom * scale) - 1])
        size = np.array([right, top]) * scale - origin + 2
        inside = np.zeros((int(size[1]), int(size[0])), np.uint8)
        rings = [
            np.floor(np.array(ring) * scale).astype(np.int32) - origin.astype(np.int32)
            for ring in (region.outer, *region.holes)
        ]
        cv2.fillPoly(inside, rings, 1)
        rows, columns = np.nonzero(inside)
        row, column = (rows + origin[1]) // finer, (columns + origin[0]) // finer
        held = (row >= 0) & (row < self.rows) & (column >= 0) & (column < self.columns)
        return float(self.values()[row[held], column[held]].sum() / max(1, len(rows)))
