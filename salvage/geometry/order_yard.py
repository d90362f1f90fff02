"""
A shelf of boards brought to a grid for planning an order.

Lengths are millimetres.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from salvage.geometry.pack_fill import Corner, Fill
from salvage.geometry.pack_site import Cutouts, Site
from salvage.geometry.untangle import Spot
from salvage.records.region import Region

if TYPE_CHECKING:
    import numpy as np

Layout = list[tuple[int, Spot]]
Share = Callable[[Sequence[int]], Sequence[int]]

RIGHT_ANGLES = (0, 90_000, 180_000, 270_000)
# A board is filled with so many poses of each shape at once; other tries take others.
_POSES_AT_ONCE = 6


@dataclass(frozen=True, slots=True)
class ShelfBoard:
    """
    A board that may be cut for the order.

    Args:
        code: Its label code.
        area: Ground where pieces may lie; around pieces that are promised already it is cut away.
        fresh: Whether it has not been cut yet.
    """

    code: str
    area: tuple[Region, ...]
    fresh: bool

    @property
    def area_mm2(self) -> float:
        """Area of the ground."""
        return sum(region.area_mm2 for region in self.area)


@dataclass(frozen=True, slots=True)
class OrderLine:
    """
    One shape of an order.

    Args:
        name: What to call it.
        shape: The shape, in its own coordinates.
        quantity: How many.
        only: The only boards it may come from; any if empty.
        never: Boards it must not come from.
        angles_mdeg: Angles to try, in thousandths of a degree, such as every 15 degrees.
        mirrored_allowed: Whether it may be turned over, so that the other face of the board
            carries the picture.
    """

    name: str
    shape: Region
    quantity: int
    only: frozenset[str] = frozenset()
    never: frozenset[str] = frozenset()
    angles_mdeg: tuple[int, ...] = RIGHT_ANGLES
    mirrored_allowed: bool = False

    def allows(self, code: str) -> bool:
        """Whether it may come from a board."""
        return code not in self.never and (not self.only or code in self.only)


@dataclass(slots=True)
class Draft:
    """
    A plan in the making.

    Args:
        layouts: What lies on each board that is used, by its number.
        left: How many of each line are not placed.
    """

    layouts: dict[int, Layout]
    left: list[int]

    def copy(self) -> Draft:
        """The same, to go on with."""
        return Draft({board: list(layout) for board, layout in self.layouts.items()}, [*self.left])


@dataclass(slots=True)
class Yard:
    """
    Boards and shapes on one grid.

    Args:
        boards: In the order of first fit: cut boards first, smallest first.
        lines: The order.
        cutouts: Its shapes, in the order of the lines.
    """

    boards: Sequence[ShelfBoard]
    lines: Sequence[OrderLine]
    cutouts: Cutouts
    _sites: dict[int, Site] = field(default_factory=dict)

    def site(self, board: int) -> Site:
        """A board's ground, prepared when first needed."""
        if board not in self._sites:
            self._sites[board] = Site(self.boards[board].area, self.cutouts)
        return self._sites[board]

    def by_size(self) -> list[int]:
        """Lines, the largest shape first."""
        return sorted(range(len(self.lines)), key=lambda n: -self.cutouts.areas_mm2[n])

    def allowed(self, board: int) -> list[int]:
        """Lines that may come from a board, largest first."""
        code = self.boards[board].code
        return [line for line in self.by_size() if self.lines[line].allows(code)]

    def fill(
        self,
        board: int,
        sequence: Sequence[int],
        left: Mapping[int, int],
        corner: Corner,
        share: Share | None = None,
    ) -> Layout:
        """
        As much as goes on an empty board.

        Args:
            board: Its number.
            sequence: Lines in the order to try, each until no more goes in.
            left: How many of each line are wanted.
            corner: Where to start.
            share: Of each shape's poses, those to try; a few if left out.
        """
        fill = Fill(self.site(board), corner, sequence, share or self.cutouts.few)
        for line in sequence:
            for _ in range(left[line]):
                if not fill.put(line):
                    break
        return fill.spots

    def area_of(self, layout: Layout) -> float:
        """Area of what lies on a board."""
        return sum(self.cutouts.areas_mm2[line] for line, _ in layout)

    def rank(self, draft: Draft) -> tuple[float, int, int, float]:
        """
        What makes a plan better, the most weighty first; smaller is better.

        Area not placed; fresh boards; boards to handle; area of the boards that are cut into, so
        that large remnants stay whole.
        """
        missing = sum(n * self.cutouts.areas_mm2[line] for line, n in enumerate(draft.left))
        used = [self.boards[board] for board, layout in draft.layouts.items() if layout]
        return (
            round(missing, 3),
            sum(board.fresh for board in used),
            len(used),
            round(sum(board.area_mm2 for board in used), 3),
        )


def first_fit(yard: Yard, share: Share | None = None) -> Draft:
    """
    Each piece, largest first, on the first board that takes it.

    Args:
        yard: Boards and shapes.
        share: Of each shape's poses, those to try; a few if left out.
    """
    left = [line.quantity for line in yard.lines]
    fills: dict[int, Fill] = {}
    for line in yard.by_size():
        for board in range(len(yard.boards)):
            if not left[line]:
                break
            if not yard.lines[line].allows(yard.boards[board].code):
                continue
            if board not in fills:
                fills[board] = Fill(
                    yard.site(board), Corner(), yard.allowed(board), share or yard.cutouts.few
                )
            while left[line] and fills[board].put(line):
                left[line] -= 1
    return Draft({board: fill.spots for board, fill in fills.items() if fill.spots}, left)


class Search:
    """
    A better plan while there is time.

    Many layouts of single boards are made for what is still wanted, and kept. Each try builds
    a plan by taking boards one after another with the layout, old or new, that covers most.

    Args:
        yard: Boards and shapes.
        best: The plan to beat.
        chance: The only source of chance.
    """

    def __init__(self, yard: Yard, best: Draft, chance: np.random.Generator) -> None:
        self.best = best
        self._yard = yard
        self._chance = chance
        self._has_more = any(map(yard.cutouts.has_more, range(len(yard.lines))))
        self._known: dict[int, list[Layout]] = {
            board: [layout] for board, layout in best.layouts.items()
        }

    def try_once(self) -> bool:
        """One more plan; True if it is the best so far."""
        draft = Draft({}, [line.quantity for line in self._yard.lines])
        order = self._board_order()
        while any(draft.left) and order:
            board = order.pop(0)
            layout = self._cover(board, draft)
            if layout:
                draft.layouts[board] = layout
                for line, _ in layout:
                    draft.left[line] -= 1
            if self._yard.rank(draft)[1:3] > self._yard.rank(self.best)[1:3] and not any(
                self.best.left
            ):
                return False
        self._swap_last_for_smaller(draft)
        if self._yard.rank(draft) < self._yard.rank(self.best):
            self.best = draft
            return True
        return False

    def _board_order(self) -> list[int]:
        """
        Cut boards before fresh ones; the larger, the more likely early.

        Where fresh boards are needed anyway, every other time as many of them come first: what
        they hold saves cut boards.
        """
        noise = self._chance.normal(1.0, 0.35, len(self._yard.boards))
        boards = self._yard.boards
        order = sorted(
            range(len(boards)), key=lambda n: (boards[n].fresh, -boards[n].area_mm2 * noise[n])
        )
        needed = self._yard.rank(self.best)[1]
        if not needed or self._chance.random() < 0.5:
            return order
        first = [board for board in order if boards[board].fresh][:needed]
        return first + [board for board in order if board not in first]

    def _cover(self, board: int, draft: Draft) -> Layout:
        """The layout that covers most of what is left: a new one, or a known one cut down."""
        left = dict(enumerate(draft.left))
        sequence = [line for line in self._yard.allowed(board) if left[line]]
        if not sequence:
            return []
        if self._chance.random() < 0.6:
            noise = self._chance.normal(0.0, 0.4, len(sequence))
            places = [place + noise[place] * len(sequence) for place in range(len(sequence))]
            sequence = [line for _, line in sorted(zip(places, sequence, strict=True))]
        corner = Corner(*(bool(self._chance.integers(2)) for _ in range(3)))
        new = self._yard.fill(board, sequence, left, corner, self._share())
        self._known.setdefault(board, []).append(new)
        useful = [self._cut_down(layout, draft) for layout in self._known[board]]
        return max(useful, key=self._yard.area_of)

    def _share(self) -> Share:
        """Every other time other poses than the few, where there are more."""
        if not self._has_more or self._chance.random() < 0.5:
            return self._yard.cutouts.few
        return self._some

    def _some(self, poses: Sequence[int]) -> Sequence[int]:
        count = min(len(poses), _POSES_AT_ONCE)
        return sorted(int(n) for n in self._chance.choice(poses, count, replace=False))

    def _cut_down(self, layout: Layout, draft: Draft) -> Layout:
        """The layout without what is not wanted any more."""
        left = [*draft.left]
        kept = []
        for line, spot in layout:
            if left[line]:
                left[line] -= 1
                kept.append((line, spot))
        return kept

    def _swap_last_for_smaller(self, draft: Draft) -> None:
        """What the last board holds may go on a smaller one that is not used yet."""
        if not draft.layouts or any(draft.left):
            return
        last = next(reversed(draft.layouts))
        counts = [0] * len(self._yard.lines)
        for line, _ in draft.layouts[last]:
            counts[line] += 1
        boards = self._yard.boards
        smaller = [
            n
            for n in range(len(boards))
            if n not in draft.layouts
            and (boards[n].fresh, boards[n].area_mm2) < (boards[last].fresh, boards[last].area_mm2)
            and boards[n].area_mm2 > self._yard.area_of(draft.layouts[last])
        ]
        for board in smaller:
            sequence = [line for line in self._yard.allowed(board) if counts[line]]
            layout = self._yard.fill(board, sequence, dict(enumerate(counts)), Corner())
            if len(layout) == sum(counts):
                del draft.layouts[last]
                draft.layouts[board] = layout
                return
