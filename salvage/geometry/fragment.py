"""What a stretch of usable board is good for: its largest upright rectangle and its least width."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.geometry.outline import to_polygon
from salvage.geometry.shape_facts import shape_facts
from salvage.records.region import Region

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

# The grid on which the rectangle is sought: a two-hundredth of the longer side, no finer than this.
_FINEST_MM, _CELLS = 0.25, 200


@dataclass(frozen=True, slots=True)
class FragmentFacts:
    """
    Measures of a fragment, in mm.

    Args:
        rectangle_mm: Left, bottom, right and top of a large rectangle that lies in it, sides
            parallel to the board's; never too large, and at most two cells of the grid too small.
        least_width_mm: Its narrowest material, sharp tips left out.
    """

    rectangle_mm: tuple[float, float, float, float]
    least_width_mm: float


def fragment_facts(region: Region) -> FragmentFacts:
    """
    The facts of a fragment.

    >>> from salvage.geometry.outline import rectangle
    >>> fragment_facts(rectangle(40, 20))
    FragmentFacts(rectangle_mm=(0.0, 0.0, 40.0, 20.0), least_width_mm=20.0)
    """
    facts = shape_facts(region, tool_mm=0.0, least_wall_mm=0.0)
    return FragmentFacts(_largest_rectangle(region), facts.least_width_mm)


def _largest_rectangle(region: Region) -> tuple[float, float, float, float]:
    """The largest rectangle of grid cells that lie wholly in the region."""
    import numpy as np
    import shapely

    polygon = to_polygon(region)
    left, bottom, right, top = polygon.bounds
    step = max(_FINEST_MM, max(right - left, top - bottom) / _CELLS)
    columns, rows = max(1, int((right - left) / step)), max(1, int((top - bottom) / step))
    # Cells fill the box, so that a rectangle is found whole.
    xs = np.linspace(left, right, columns + 1)
    ys = np.linspace(bottom, top, rows + 1)
    boxes = shapely.box(xs[None, :-1], ys[:-1, None], xs[None, 1:], ys[1:, None])
    shapely.prepare(polygon)
    inside = shapely.covers(polygon, boxes)
    found = _best_block(inside)
    if found is None:
        x, y = polygon.representative_point().coords[0]
        return (x, y, x, y)
    low, high, first, last = found
    return (
        round(float(xs[first]), 3),
        round(float(ys[low]), 3),
        round(float(xs[last]), 3),
        round(float(ys[high]), 3),
    )


def _best_block(inside: NDArray[np.bool_]) -> tuple[int, int, int, int] | None:
    """Rows from and to, columns from and to of the largest block that is true everywhere."""
    heights = [0] * inside.shape[1]
    best, found = 0, None
    for row in range(inside.shape[0]):
        heights = [h + 1 if inside[row, n] else 0 for n, h in enumerate(heights)]
        stack: list[int] = []
        for column in range(len(heights) + 1):
            height = heights[column] if column < len(heights) else 0
            while stack and heights[stack[-1]] >= height:
                tall = heights[stack.pop()]
                first = stack[-1] + 1 if stack else 0
                if tall * (column - first) > best:
                    best = tall * (column - first)
                    found = (row + 1 - tall, row + 1, first, column)
            stack.append(column)
    return found
