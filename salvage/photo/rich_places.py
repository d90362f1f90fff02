"""
The places of a richness map that one would cut from, and the map seen from the other side.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, TypeAlias

from salvage.photo.rich_map import CELLS_PER_MM, RichnessMap, RichPlace

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from salvage.records.region import Region

# Densities and shares pass through several depths of number on their way.
Array: TypeAlias = "npt.NDArray[Any]"

PLACES = 3
"""How many places are proposed."""

# A piece is cut out of the board, so a window that reaches over the rim or into glare is not
# proposed, unless the board is so narrow that every window does.
_LEAST_SEEN, _OF_THE_BEST = 0.9, 0.95

# Parts of a cell that a region's edge is drawn to.
_FINER = 4


def best_places(density: Array, whole: Array, window_mm: float) -> tuple[RichPlace, ...]:
    """
    The densest windows that lie on what may be cut, each clear of those before it.

    Args:
        density: Length of edges for each mm2 in the window round each cell, rows from the top.
        whole: Share of that window which is board, seen, and free.
        window_mm: Side of the window.
    """
    import numpy as np

    could = whole >= min(_LEAST_SEEN, _OF_THE_BEST * float(whole.max()))
    could &= whole > 0
    among = np.sort(density[could])
    left = np.where(could, density, 0.0)
    reach = round(window_mm * CELLS_PER_MM)
    places: list[RichPlace] = []
    while len(places) < PLACES:
        row, column = np.unravel_index(int(left.argmax()), left.shape)
        best = float(left[row, column])
        if best <= 0:
            break
        x, y = (column + 0.5) / CELLS_PER_MM, (left.shape[0] - row - 0.5) / CELLS_PER_MM
        share = float(np.searchsorted(among, best)) / len(among)
        places.append(RichPlace(float(x), float(y), best, share))
        top, start = max(0, row - reach + 1), max(0, column - reach + 1)
        left[top : row + reach, start : column + reach] = 0
    return tuple(places)


def free_places(found: RichnessMap, free: Sequence[Region]) -> tuple[RichPlace, ...]:
    """
    The best places of a map on what is still free to be cut.

    Args:
        found: The map.
        free: Regions that may still be cut, in board coordinates.
    """
    import numpy as np

    shape = found.rows, found.columns
    density = np.frombuffer(found.levels, np.uint8).reshape(shape) * found.density_per_level
    share = cells_of(free, shape)
    return best_places(density, windowed(share, found.window_mm), found.window_mm)


def windowed(cells: Array, window_mm: float) -> Array:
    """Means over windows; beyond the picture there is nothing."""
    import cv2

    window = round(window_mm * CELLS_PER_MM) | 1
    means: Array = cv2.boxFilter(cells, -1, (window, window), borderType=cv2.BORDER_CONSTANT)
    return means


def cells_of(regions: Sequence[Region], shape: tuple[int, int]) -> Array:
    """
    The share of each cell that some regions cover, rows from the top.

    Args:
        regions: In board coordinates; none overlaps another's hole.
        shape: Rows and columns.
    """
    import cv2
    import numpy as np

    rows, columns = shape
    inside = np.zeros((rows * _FINER, columns * _FINER), np.uint8)
    scale = CELLS_PER_MM * _FINER / 1000
    for region in regions:
        rings = [
            np.round(np.array(ring) * (scale, -scale) + (-0.5, rows * _FINER - 0.5))
            for ring in (region.outer, *region.holes)
        ]
        one = np.zeros_like(inside)
        cv2.fillPoly(one, [ring.astype(np.int32) for ring in rings], 1)
        inside |= one
    share: Array = inside.reshape(rows, _FINER, columns, _FINER).mean(axis=(1, 3), dtype=np.float32)
    return share


def seen_from_behind(found: RichnessMap, width_mm: float) -> RichnessMap:
    """
    The map as it lies when the board is turned over like a page.

    Args:
        found: The map in board coordinates.
        width_mm: Width of the board's bounding box.
    """
    import numpy as np

    def flip(levels: bytes) -> bytes:
        cells = np.frombuffer(levels, np.uint8).reshape(found.rows, found.columns)
        return np.ascontiguousarray(cells[:, ::-1]).tobytes()

    return replace(
        found,
        levels=flip(found.levels),
        fine=flip(found.fine),
        places=tuple(replace(place, x_mm=width_mm - place.x_mm) for place in found.places),
        parts=tuple(replace(part, x_mm=width_mm - part.x_mm) for part in found.parts),
    )
