"""
Where one outline may not stand beside another, on a grid of places.

Slide one outline round another: the places of the second where both overlap are the Minkowski sum
of the first with the second turned half round. Its winding number is got from the *convolution* of
both (L. Guibas, L. Ramshaw and J. Stolfi, "A kinetic framework for computational geometry", 1983;
from memory): each edge of one is moved to the corners of the other whose turn includes the edge's
direction. The winding number is the number of parts in which the two overlap, so nothing needs
to be cut into convex parts, and it is exact at the places of the grid. Outlines have no holes here:
nothing is packed into a hole. Lengths are steps of the grid.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Points = NDArray[np.float64]
    Mask = NDArray[np.bool_]
    Depth = NDArray[np.float32]

# A slot that an outline fits exactly, with nothing to spare, counts as too narrow.
# Outlines that touch within this part of a step do not overlap. With steps of a millimetre it is
# a tenth of a micrometre.
TOUCH = 1e-4
# Directions closer than this are one; a hair of the angle between two steps of a flattened curve.
_SAME_ANGLE = 1e-10
_PARTS = 32


class Stencil:
    """
    Places relative to a first outline where a second one overlaps it.

    Args:
        left: Column of the mask's first column, counted from the first outline's own place.
        bottom: Row of its first row.
        mask: True where they overlap; rows by columns.
    """

    __slots__ = ("_depth", "bottom", "left", "mask")

    def __init__(self, left: int, bottom: int, mask: Mask) -> None:
        self.left = left
        self.bottom = bottom
        self.mask = mask
        self._depth: Depth | None = None

    @property
    def depth(self) -> Depth:
        """How many steps deep the overlap is, 0 where there is none; rows by columns."""
        if self._depth is None:
            self._depth = depth_of(self.mask)
        return self._depth

    def turned(self, quarters: int) -> Stencil:
        """The stencil of both outlines turned counter-clockwise about their own places."""
        import numpy as np

        stencil = self
        for _ in range(quarters % 4):
            rows, _ = stencil.mask.shape
            left = -(stencil.bottom + rows - 1)
            # Rows run up, so the library's turn is the other way round.
            stencil = Stencil(left, stencil.left, np.rot90(stencil.mask, -1))
        return Stencil(stencil.left, stencil.bottom, np.ascontiguousarray(stencil.mask))

    def swapped(self) -> Stencil:
        """The stencil of the second outline for the first one: every way the other way round."""
        import numpy as np

        rows, columns = self.mask.shape
        mask = np.ascontiguousarray(self.mask[::-1, ::-1])
        return Stencil(-(self.left + columns - 1), -(self.bottom + rows - 1), mask)


def draw_stencil(still: Points, moved: Points) -> Stencil:
    """
    The stencil of two simple outlines.

    Args:
        still: Corners of the outline that stands, counter-clockwise, in steps of the grid.
        moved: Corners of the one that is to be placed.

    >>> import numpy as np
    >>> square = np.array([(0, 0), (3, 0), (3, 3), (0, 3)], dtype=float)
    >>> stencil = draw_stencil(square, square)
    >>> stencil.left, stencil.bottom, stencil.depth.shape, float(stencil.depth.max())
    (-2, -2, (5, 5), 3.0)
    """
    return Stencil(*overlap_mask([still], moved))


def overlap_mask(stills: list[Points], moved: Points) -> tuple[int, int, Mask]:
    """
    First column, first row and mask of the places where *moved* overlaps any of the outlines.

    An outline given clockwise is a hole of the others.
    """
    import numpy as np

    edges = np.vstack([_convolve(still, -moved) for still in stills])
    low = np.floor(edges[:, [0, 1]].min(axis=0)).astype(int)
    high = np.ceil(edges[:, [0, 1]].max(axis=0)).astype(int)
    columns, rows = high - low + 1
    shifted = edges - np.array([low[0], low[1], low[0], low[1], 0.0])
    inside = _is_wound(shifted, rows, columns, TOUCH) & _is_wound(shifted, rows, columns, -TOUCH)
    return _trim(int(low[0]), int(low[1]), inside)


def _trim(left: int, bottom: int, mask: Mask) -> tuple[int, int, Mask]:
    import numpy as np

    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    if not len(rows):
        return left, bottom, mask[:0, :0]
    kept = mask[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    return left + int(columns[0]), bottom + int(rows[0]), np.ascontiguousarray(kept)


def _convolve(one: Points, other: Points) -> Points:
    """Edges of the convolution, each as x1, y1, x2, y2 and 1 or -1."""
    import numpy as np

    steps_one, steps_other = np.roll(one, -1, axis=0) - one, np.roll(other, -1, axis=0) - other
    ranks = _rank(np.vstack([steps_one, steps_other]))
    rank_one, rank_other = ranks[: len(one)], ranks[len(one) :]
    # Where both have an edge of one direction, the first's counts as turned a trifle further on.
    first = _carry(one, steps_one, rank_one, other, rank_other, 0)
    second = _carry(other, steps_other, rank_other, one, rank_one, 1)
    return np.vstack([first, second])


def _rank(steps: Points) -> NDArray[np.int64]:
    """Directions as whole numbers that increase with the angle; equal directions are equal."""
    import numpy as np

    angles = np.arctan2(steps[:, 1], steps[:, 0])
    angles[angles > np.pi - _SAME_ANGLE] -= 2 * np.pi
    order = np.argsort(angles, kind="stable")
    new = np.diff(angles[order], prepend=angles[order[:1]]) > _SAME_ANGLE
    ranks = np.empty(len(angles), dtype=np.int64)
    ranks[order] = new.cumsum()
    return ranks


def _carry(
    corners: Points,
    steps: Points,
    ranks: NDArray[np.int64],
    at: Points,
    at_ranks: NDArray[np.int64],
    late: int,
) -> Points:
    """Edges of one outline carried to those corners of the other that turn past them."""
    import numpy as np

    count = 1 + int(max(ranks.max(), at_ranks.max()))
    incoming, outgoing = np.roll(at_ranks, 1), at_ranks
    turns = np.roll(at, -1, axis=0) - at
    before = at - np.roll(at, 1, axis=0)
    bends_left = before[:, 0] * turns[:, 1] - before[:, 1] * turns[:, 0] > 0
    low = np.where(bends_left, incoming, outgoing)
    width = np.where(bends_left, outgoing - incoming, incoming - outgoing) % count
    beyond = (ranks[:, None] - low[None, :] - late) % count
    edge, corner = np.nonzero(beyond < width[None, :])
    start = corners[edge] + at[corner]
    sign = np.where(bends_left[corner], 1.0, -1.0)
    return np.hstack([start, start + steps[edge], sign[:, None]])


def _is_wound(edges: Points, rows: int, columns: int, lift: float) -> Mask:
    """Places that the edges wind round, looked at a trifle above or below, left and right."""
    import numpy as np

    x1, y1, x2, y2, sign = edges.T
    y1, y2 = y1 - lift, y2 - lift
    low = np.clip(np.ceil(np.minimum(y1, y2)), 0, rows).astype(np.int64)
    high = np.clip(np.ceil(np.maximum(y1, y2)), 0, rows).astype(np.int64)
    counts = high - low
    edge = np.repeat(np.arange(len(counts)), counts)
    row = np.arange(counts.sum()) - np.repeat(counts.cumsum() - counts, counts) + low[edge]
    slope = np.divide(x2 - x1, y2 - y1, out=np.zeros_like(x1), where=y1 != y2)
    at = x1[edge] + (row - y1[edge]) * slope[edge]
    gain = np.where(y2 > y1, -sign, sign)[edge]
    wide = columns + 1
    inside = np.ones((rows, columns), dtype=bool)
    # Just left and just right of each place: on the edge itself one of the two is outside.
    for column in (np.floor(at + TOUCH) + 1, np.ceil(at - TOUCH)):
        flat = row * wide + np.clip(column, 0, columns).astype(np.int64)
        change = np.bincount(flat, weights=gain, minlength=rows * wide).reshape(rows, wide)
        inside &= change.cumsum(axis=1)[:, :-1] > 0.5
    return inside


def depth_of(mask: Mask) -> Depth:
    """
    Distance in steps from each place of a mask to the nearest place outside it, 0 outside.

    >>> import numpy as np
    >>> depth_of(np.ones((3, 3), dtype=bool)).astype(int).tolist()
    [[1, 1, 1], [1, 2, 1], [1, 1, 1]]
    """
    import numpy as np

    if not mask.size:
        return np.zeros(mask.shape, dtype=np.float32)
    upward = _runs(mask)
    across = np.minimum(upward, _runs(mask[::-1])[::-1])
    squares = np.pad(across.astype(np.float32) ** 2, ((0, 0), (1, 1)))
    best = squares.copy()
    most = int(across.max())
    for reach in range(1, most + 1):
        near = np.float32(reach * reach)
        np.minimum(best[:, reach:], squares[:, :-reach] + near, out=best[:, reach:])
        np.minimum(best[:, :-reach], squares[:, reach:] + near, out=best[:, :-reach])
    # In whole parts, so that sums of depths are exact.
    depth: Depth = np.ceil(np.sqrt(best[:, 1:-1]) * _PARTS) / np.float32(_PARTS)
    return np.ascontiguousarray(depth)


def _runs(mask: Mask) -> NDArray[np.int64]:
    """How many rows each place lies above the last one outside the mask."""
    import numpy as np

    row = np.arange(1, len(mask) + 1)[:, None]
    last = np.maximum.accumulate(np.where(mask, 0, row), axis=0)
    return row - last
