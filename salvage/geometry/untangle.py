"""
Outlines put on a grid of places, and pulled apart where they overlap.

All are laid down first, overlapping if they must. Then each that overlaps moves to the place and
turn where its overlaps, weighted, are least deep; the weights of pairs that still overlap grow from
round to round, so that the search leaves a dead end by itself. This is guided local search
(C. Voudouris and E. Tsang, 1999; for overlapping outlines J. Egeblad and others, 2007; from
memory), here with all places of a grid tried at once. Places are whole steps of the grid.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.geometry.poses import Poses
from salvage.geometry.stencil import Stencil

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Depth = NDArray[np.float32]
    Mask = NDArray[np.bool_]

# Deeper than any overlap: a place outside the room.
OUTSIDE = 1e9
_NOTHING = 1e-4
# Items from which on sums are kept.
_MANY = 16
# How fading weights change from round to round.
_LEAST_GROWTH, _MOST_GROWTH, _FADING, _FADED = 1.2, 2.0, 0.95, 1.05


@dataclass(frozen=True, slots=True)
class Room:
    """
    Where one pose may be put.

    Args:
        left: First column.
        bottom: First row.
        rows: Rows, 0 if it fits nowhere.
        columns: Columns.
        blocked: Places in there that are not allowed; None if all are.
    """

    left: int
    bottom: int
    rows: int
    columns: int
    blocked: Mask | None = None

    def fits(self) -> bool:
        """Whether there is any place."""
        if self.rows <= 0 or self.columns <= 0:
            return False
        return self.blocked is None or not bool(self.blocked.all())


@dataclass(slots=True)
class Spot:
    """A pose and the place where it lies."""

    pose: int
    x: int
    y: int


class Pile:
    """
    For each pose the depths of all items added up, kept up to date.

    Depths are whole parts of a step, so that what is added can be taken off again exactly.

    Args:
        poses: All poses.
        spots: Where the items lie now.
    """

    def __init__(self, poses: Poses, spots: Sequence[Spot | None]) -> None:
        self._poses = poses
        self._changes: list[tuple[Spot, float]] = [(s, 1.0) for s in spots if s is not None]
        self._sums: dict[int, tuple[int, Depth]] = {}

    def change(self, old: Spot | None, new: Spot) -> None:
        """An item has moved."""
        if old is not None:
            self._changes.append((old, -1.0))
        self._changes.append((new, 1.0))

    def of(self, pose: int, frame: tuple[int, int, int, int]) -> Depth:
        """The sum for a pose; *frame* must be the same each time."""
        import numpy as np

        left, bottom, right, top = frame
        seen, total = self._sums.get(pose, (0, None))
        if total is None:
            total = np.zeros((top - bottom, right - left), dtype=np.float32)
        for spot, sign in self._changes[seen:]:
            lay(total, frame, self._poses.between(spot.pose, pose), spot, sign)
        self._sums[pose] = len(self._changes), total
        return total


def lay(
    found: Depth, frame: tuple[int, int, int, int], stencil: Stencil, spot: Spot, weight: float
) -> None:
    """Add a stencil that lies at a spot, weighted, to a map of a frame."""
    left, bottom, right, top = frame
    x0, y0 = spot.x + stencil.left, spot.y + stencil.bottom
    rows, columns = stencil.mask.shape
    x1, y1 = max(x0, left), max(y0, bottom)
    x2, y2 = min(x0 + columns, right), min(y0 + rows, top)
    if x1 >= x2 or y1 >= y2:
        return
    part = stencil.depth[y1 - y0 : y2 - y0, x1 - x0 : x2 - x0]
    place = found[y1 - bottom : y2 - bottom, x1 - left : x2 - left]
    if weight == 1.0:
        place += part
    elif weight == -1.0:
        place -= part
    else:
        place += part * part.dtype.type(weight)


def _reweigh(
    weights: NDArray[np.float64], overlaps: NDArray[np.float64], *, fading: bool
) -> NDArray[np.float64]:
    """Pairs that overlap weigh more, the deeper the more; the others forget, if they fade."""
    import numpy as np

    if not fading:
        added: NDArray[np.float64] = weights + overlaps / overlaps.max()
        return added
    grown = weights * (_LEAST_GROWTH + (_MOST_GROWTH - _LEAST_GROWTH) * overlaps / overlaps.max())
    faded = np.where(weights > _FADED, weights * _FADING, 1.0)
    changed: NDArray[np.float64] = np.where(overlaps > 0, grown, faded)
    return changed


class Tangle:
    """
    Items with their spots; None for an item that is not laid down.

    Args:
        poses: All poses.
        rooms: Where each pose may be put.
        choices: For each item the poses it may take.
        chance: The only source of chance.
    """

    def __init__(
        self,
        poses: Poses,
        rooms: Callable[[int], Room],
        choices: Sequence[Sequence[int]],
        chance: np.random.Generator,
    ) -> None:
        self.poses = poses
        self.rooms = rooms
        self.choices = [tuple(choice) for choice in choices]
        self.spots: list[Spot | None] = [None] * len(self.choices)
        self.chance = chance
        self.moves = 0
        self._pile: Pile | None = None

    def depths(
        self,
        item: int,
        pose: int,
        weights: Sequence[float] | None = None,
        near: tuple[int, int, int] | None = None,
    ) -> tuple[int, int, Depth] | None:
        """
        Column, row and map of the weighted depth of overlap at every place a pose may be put.

        Args:
            item: The item to move; it does not count itself.
            pose: One of its poses.
            weights: A weight for every item; 1 if left out.
            near: Only places within so many steps (third) of a column and a row.
        """
        import numpy as np

        room = self.rooms(pose)
        left, bottom = room.left, room.bottom
        right, top = left + room.columns, bottom + room.rows
        if near:
            x, y, reach = near
            left, right = max(left, x - reach), min(right, x + reach + 1)
            bottom, top = max(bottom, y - reach), min(top, y + reach + 1)
        if left >= right or bottom >= top:
            return None
        found = np.zeros((top - bottom, right - left), dtype=np.float32)
        if room.blocked is not None:
            rows = slice(bottom - room.bottom, top - room.bottom)
            columns = slice(left - room.left, right - room.left)
            found[room.blocked[rows, columns]] = OUTSIDE
        frame = (left, bottom, right, top)
        self.moves += 1
        if self._pile is None or near:
            others = [n for n in range(len(self.spots)) if n != item]
            self._add_overlaps(found, frame, pose, others, weights)
            return left, bottom, found
        found += self._pile.of(pose, frame)
        here = self.spots[item]
        if here is not None:
            lay(found, frame, self.poses.between(here.pose, pose), here, -1.0)
        if weights is not None:
            heavy = [n for n, w in enumerate(weights) if w != 1.0 and n != item]
            self._add_overlaps(found, frame, pose, heavy, [w - 1.0 for w in weights])
        return left, bottom, found

    def _add_overlaps(
        self,
        found: Depth,
        frame: tuple[int, int, int, int],
        pose: int,
        others: Sequence[int],
        weights: Sequence[float] | None,
    ) -> None:
        between = self.poses.between
        for other in others:
            spot = self.spots[other]
            if spot is not None:
                weight = 1.0 if weights is None else weights[other]
                lay(found, frame, between(spot.pose, pose), spot, weight)

    def overlap(self, one: int, other: int) -> float:
        """How many steps deep two items overlap; 0 if they do not."""
        a, b = self.spots[one], self.spots[other]
        if a is None or b is None or one == other:
            return 0.0
        stencil = self.poses.between(b.pose, a.pose)
        row, column = a.y - b.y - stencil.bottom, a.x - b.x - stencil.left
        rows, columns = stencil.mask.shape
        if not (0 <= row < rows and 0 <= column < columns) or not stencil.mask[row, column]:
            return 0.0
        return float(stencil.depth[row, column])

    def best_spot(
        self,
        item: int,
        poses: Sequence[int],
        weights: Sequence[float] | None = None,
        reach: int | None = None,
    ) -> tuple[float, Spot] | None:
        """The least depth and where it is; of equals, one by chance."""
        import numpy as np

        best: tuple[float, Spot] | None = None
        here = self.spots[item]
        for pose in poses:
            near = (here.x, here.y, reach) if reach and here else None
            looked = self.depths(item, pose, weights, near)
            if looked is None:
                continue
            left, bottom, found = looked
            least = float(found.min())
            if best is None or least < best[0] - _NOTHING:
                equal = np.flatnonzero(found.ravel() <= least + _NOTHING)
                row, column = divmod(int(self.chance.choice(equal)), found.shape[1])
                best = least, Spot(pose, left + column, bottom + row)
        return best

    def separate(
        self,
        go_on: Callable[[], bool],
        *,
        patience: int,
        reach: int | None = None,
        most_poses: int | None = None,
    ) -> bool:
        """
        Pull the items apart; True once none overlaps.

        Args:
            go_on: Asked before each move; False ends the search.
            patience: Rounds without less overlap before giving up.
            reach: Move at most so many steps at once, without turning; anywhere if left out.
            most_poses: Try so many poses, by chance, at each move; all if left out.
        """
        import numpy as np

        laid = [n for n, spot in enumerate(self.spots) if spot is not None]
        count = len(self.spots)
        overlaps = np.zeros((count, count))
        for one in laid:
            self._measure(overlaps, one, [other for other in laid if other < one])
        weights = np.ones((count, count))
        # Some cases come apart only with one of the two, so each try takes one by chance.
        fading = bool(self.chance.integers(2))
        least, stale = np.inf, 0
        # With many items it is quicker to keep the sum for each pose than to add it up anew.
        many = not reach and len(laid) > _MANY
        self._pile = Pile(self.poses, self.spots) if many else None
        while overlaps.any():
            if overlaps.sum() < least - _NOTHING:
                least, stale = overlaps.sum(), 0
            elif stale >= patience:
                return False
            stale += 1
            for item in self.chance.permutation(np.flatnonzero(overlaps.any(axis=1))).tolist():
                if not go_on():
                    return False
                if overlaps[item].any():
                    self._move(item, weights[item].tolist(), reach, most_poses)
                    self._measure(overlaps, item, laid)
            if overlaps.any():
                weights = _reweigh(weights, overlaps, fading=fading)
        return True

    def _measure(self, overlaps: NDArray[np.float64], item: int, others: Sequence[int]) -> None:
        for other in others:
            overlaps[item, other] = overlaps[other, item] = self.overlap(item, other)

    def _move(
        self, item: int, weights: list[float], reach: int | None, most_poses: int | None
    ) -> None:
        here, poses = self.spots[item], self.choices[item]
        if here is not None and reach:
            poses = (here.pose,)
        elif here is not None and most_poses and most_poses < len(poses):
            others = self.chance.choice(len(poses), most_poses, replace=False)
            poses = (here.pose, *(poses[n] for n in others if poses[n] != here.pose))
        best = self.best_spot(item, poses, weights, reach)
        if best and best[0] < OUTSIDE:
            if self._pile:
                self._pile.change(here, best[1])
            self.spots[item] = best[1]

    def kept(self) -> list[Spot | None]:
        """A copy of all spots, to come back to."""
        return [None if spot is None else Spot(spot.pose, spot.x, spot.y) for spot in self.spots]
