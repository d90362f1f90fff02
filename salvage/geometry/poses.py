"""
Outlines in the positions they may be turned to, with the stencils of every pair of them.

A stencil is drawn when first asked for. Two poses turned together by a quarter have the same
stencil turned, and two poses the other way round the same one swapped, so that with all quarter
turns about an eighth of the pairs is drawn.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.geometry.stencil import Stencil, draw_stencil

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Points = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Pose:
    """
    An outline turned for placing.

    Args:
        outline: Corners counter-clockwise, in steps of the grid, about the place it is put by.
        family: Poses of one family are the same outline but for quarter turns.
        quarters: Quarter turns from the family's first pose, 0 to 3.
    """

    outline: Points
    family: int
    quarters: int = 0


class Poses:
    """
    Poses by number, and where two of them overlap.

    Args:
        poses: All poses, of all shapes.
    """

    def __init__(self, poses: Sequence[Pose]) -> None:
        self.poses = tuple(poses)
        self._numbers = {(p.family, p.quarters): n for n, p in enumerate(self.poses)}
        self._drawn: dict[tuple[int, int], Stencil] = {}

    def between(self, still: int, moved: int) -> Stencil:
        """Where pose *moved* overlaps pose *still*, relative to the place of the latter."""
        pair = (still, moved)
        stencil = self._drawn.get(pair)
        if stencil is None:
            stencil = self._drawn[pair] = self._make(still, moved)
        return stencil

    def _make(self, still: int, moved: int) -> Stencil:
        other = self._drawn.get((moved, still))
        if other is not None:
            return other.swapped()
        one, two = self.poses[still], self.poses[moved]
        back = self._numbers.get((two.family, (two.quarters - one.quarters) % 4))
        first = self._numbers.get((one.family, 0))
        if one.quarters and back is not None and first is not None:
            return self.between(first, back).turned(one.quarters)
        return draw_stencil(one.outline, two.outline)
