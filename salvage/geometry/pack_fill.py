"""
Items put down one after another, each as far into one corner as it will go.

This is bottom-left placing, from any of the four corners and along either edge. It is quick, never
overlaps, and leaves what is over in one stretch at the far side.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

from salvage.geometry.pack_site import Site
from salvage.geometry.untangle import Spot

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Corner:
    """
    Where to start, and along which edge to go.

    Args:
        from_right: Start at the right instead of the left.
        from_top: Start at the top instead of the bottom.
        along_rows: Fill up row by row instead of column by column.
    """

    from_right: bool = False
    from_top: bool = False
    along_rows: bool = False


CORNERS = tuple(Corner(*choice) for choice in product((False, True), repeat=3))


class Fill:
    """
    A board being filled.

    Args:
        site: The board's ground.
        corner: Where to start.
        shapes: The shapes that will be asked for; only their poses are kept up to date.
        share: Of each shape's poses, those to try; all if left out.
    """

    def __init__(
        self,
        site: Site,
        corner: Corner,
        shapes: Sequence[int],
        share: Callable[[Sequence[int]], Sequence[int]] = tuple,
    ) -> None:
        self._site = site
        self._corner = corner
        self._poses = {shape: tuple(share(site.cutouts.of_shape[shape])) for shape in shapes}
        self._blocked: dict[int, Mask] = {}
        self.spots: list[tuple[int, Spot]] = []

    def put(self, shape: int) -> bool:
        """Put one more of a shape down; False if no place is left for it."""
        best: tuple[tuple[float, float], Spot] | None = None
        for pose in self._poses[shape]:
            found = self._first_free(pose)
            if found and (best is None or found[0] < best[0]):
                best = found
        if best is None:
            return False
        self.spots.append((shape, best[1]))
        for pose, blocked in self._blocked.items():
            self._block(blocked, pose, best[1])
        return True

    def _first_free(self, pose: int) -> tuple[tuple[float, float], Spot] | None:
        room = self._site.room(pose)
        blocked = self._map(pose)
        if blocked is None:
            return None
        corner = self._corner
        view = blocked[:: -1 if corner.from_top else 1, :: -1 if corner.from_right else 1]
        if not corner.along_rows:
            view = view.T
        first = int(view.argmin())
        line, along = divmod(first, view.shape[1])
        if view[line, along]:
            return None
        row, column = (line, along) if corner.along_rows else (along, line)
        row = room.rows - 1 - row if corner.from_top else row
        column = room.columns - 1 - column if corner.from_right else column
        spot = Spot(pose, room.left + column, room.bottom + row)
        return self._rank(spot), spot

    def _rank(self, spot: Spot) -> tuple[float, float]:
        """How far the piece reaches from the corner, first along the way the board fills up."""
        bare = self._site.cutouts.bare[spot.pose]
        low, high = bare.min(axis=0), bare.max(axis=0)
        across = -(spot.x + low[0]) if self._corner.from_right else spot.x + high[0]
        upward = -(spot.y + low[1]) if self._corner.from_top else spot.y + high[1]
        reach = (float(across), float(upward))
        return reach[::-1] if self._corner.along_rows else reach

    def _map(self, pose: int) -> Mask | None:
        """Where the pose may not be put by now; None if nowhere at all it may."""
        import numpy as np

        if pose not in self._blocked:
            room = self._site.room(pose)
            if room.rows <= 0 or room.columns <= 0:
                return None
            blocked = np.zeros((room.rows, room.columns), dtype=bool)
            if room.blocked is not None:
                blocked |= room.blocked
            for _, spot in self.spots:
                self._block(blocked, pose, spot)
            self._blocked[pose] = blocked
        return self._blocked[pose]

    def _block(self, blocked: Mask, pose: int, spot: Spot) -> None:
        room = self._site.room(pose)
        stencil = self._site.cutouts.poses.between(spot.pose, pose)
        x0, y0 = spot.x + stencil.left - room.left, spot.y + stencil.bottom - room.bottom
        rows, columns = stencil.mask.shape
        x1, y1 = max(x0, 0), max(y0, 0)
        x2, y2 = min(x0 + columns, room.columns), min(y0 + rows, room.rows)
        if x1 < x2 and y1 < y2:
            blocked[y1:y2, x1:x2] |= stencil.mask[y1 - y0 : y2 - y0, x1 - x0 : x2 - x0]
