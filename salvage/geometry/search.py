"""
Whether a shape fits, for all places and all angles, by branch and bound on distance maps.

Places and angles are cut into cells. A cell is dropped when one disc of the shape cannot have room
anywhere in it: that is a proof. What is left is cut into eight smaller cells, down to one pixel.
On the way the middles of promising cells are handed to the caller, who alone decides on vectors
whether the shape fits there. Nothing here claims a fit.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TypeAlias

from salvage.geometry.probes import Probes
from salvage.geometry.sheet import OUTSIDE, Sheet
from salvage.geometry.turning import DiscTable, Turns, disc_table

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

# A look-up costs about 2 ns in a long row of them, a call 2 µs: short rows take many discs at once.
_AT_ONCE = 40_000
_FIRST_DISCS = 4
_TRIES = 6
# With more cells than this it pays to find out on a sample which discs rule out most.
_MANY, _SAMPLE, _SORTED_DISCS = 20_000, 500, 16
_TIRED = 0.97  # of the cells are left
_EASY_UNITS = 50  # half a millimetre to spare


@dataclass(frozen=True, slots=True)
class Pose:
    """
    A place and an angle to look at, for the centre of a shape's largest disc.

    Args:
        x_mm: Where, in board coordinates.
        y_mm: The same upward.
        angle: Radians, counter-clockwise.
        side: 1 as drawn, -1 turned over first.
    """

    x_mm: float
    y_mm: float
    angle: float
    side: int


@dataclass(frozen=True, slots=True)
class Cells:
    """
    What is still open.

    Args:
        places: Lower left pixel of each cell, as a number of the sheet.
        turns: Number of its arc and side.
    """

    places: NDArray[np.int64]
    turns: NDArray[np.int64]

    def __len__(self) -> int:
        return len(self.places)

    def take(self, index: NDArray[np.int64]) -> Cells:
        """The cells of these numbers."""
        return Cells(self.places.take(index), self.turns.take(index))


# Judges poses on one board exactly; true once one of them is a fit.
Judge: TypeAlias = Callable[[int, Sequence[Pose]], bool]


@dataclass(frozen=True, slots=True)
class Quest:
    """
    What is looked for, and how hard.

    Args:
        probes: The shape.
        turns: Angles and sides.
        clearance_mm: Room round the shape.
        judge: Decides exactly.
        most_cells: A board with more open cells than this is given up as undecided.
        tables: Discs worked out already, by arcs, block and step; may be shared among quests for
            the same shape, turns and clearance.
    """

    probes: Probes
    turns: Turns
    clearance_mm: float
    judge: Judge
    most_cells: int
    tables: dict[tuple[int, int, float], DiscTable] = field(default_factory=dict)

    def table(self, sheet: Sheet, *, arcs: int, block: int) -> DiscTable:
        """The discs for a sheet's cells."""
        key = arcs, block, sheet.step_mm
        if key not in self.tables:
            self.tables[key] = disc_table(
                self.probes,
                self.turns,
                arcs=arcs,
                block=block,
                step_mm=sheet.step_mm,
                clearance_mm=self.clearance_mm,
            )
        return self.tables[key]


@dataclass(slots=True)
class Progress:
    """
    How far a search has come.

    Args:
        cells: Open cells.
        arcs: Arcs of their angles.
        block: Pixels across each.
        fits: Boards on which the shape was found to fit.
        given_up: Boards left undecided because too many cells stayed open.
    """

    cells: Cells
    arcs: int
    block: int
    fits: set[int]
    given_up: set[int]


def first_cells(sheet: Sheet, quest: Quest, *, arcs: int, block: int) -> Cells:
    """All cells of all boards in which the shape's largest disc may have room."""
    import numpy as np

    table = quest.table(sheet, arcs=arcs, block=block)
    grids = []
    for frame, start in zip(sheet.frames, sheet.starts, strict=True):
        rows = np.arange(0, frame.rows, block)[:, None] * sheet.width
        grids.append((start + rows + np.arange(0, frame.columns, block)[None, :]).ravel())
    places = np.concatenate(grids)
    looked = sheet.values.take(places + table.dy[0, 0] * sheet.width + table.dx[0, 0], mode="clip")
    # The first disc is the centre of turning, so one look serves all angles.
    places = places[looked >= table.proof[0, 0]]
    count = quest.turns.count(arcs)
    return Cells(np.repeat(places, count), np.tile(np.arange(count), len(places)))


def run(sheet: Sheet, quest: Quest, progress: Progress, *, least_block: int = 1) -> None:
    """Sift and cut until every board is decided or its cells are *least_block* pixels wide."""
    while True:
        table = quest.table(sheet, arcs=progress.arcs, block=progress.block)
        last = progress.block <= least_block
        progress.cells = sift(sheet, table, progress.cells, thorough=last)
        _try_middles(sheet, quest, progress, table)
        _drop_crowded(sheet, quest, progress)
        if not len(progress.cells) or progress.block <= least_block:
            return
        _cut(sheet, quest, progress)


def sift(
    sheet: Sheet,
    table: DiscTable,
    cells: Cells,
    *,
    nominal_plus: int | None = None,
    thorough: bool = True,
) -> Cells:
    """
    The cells that no disc rules out.

    Args:
        sheet: Maps.
        table: Discs at the cells' size.
        cells: What to look at.
        nominal_plus: If given, the middles must have their nominal room and so many units more.
        thorough: Ask every disc; otherwise stop once the next few rule out next to nothing, since
            smaller cells will be ruled out at less cost.
    """
    import numpy as np

    least = table.proof if nominal_plus is None else table.nominal + np.int16(nominal_plus)
    # A disc that asks for no more than any place has rules out nothing.
    telling = np.flatnonzero(least.max(axis=1) > OUTSIDE)
    least, jumps = least[telling], (table.dy * sheet.width + table.dx)[telling]
    if len(cells) > _MANY:
        order = _deadliest_first(sheet, jumps, least, cells)
        least, jumps = least[order], jumps[order]
    disc, discs = 0, len(jumps)
    while disc < discs and len(cells):
        many = max(1, min(discs - disc, _AT_ONCE // len(cells), max(_FIRST_DISCS, disc)))
        chosen = slice(disc, disc + many)
        looks = jumps[chosen].take(cells.turns, axis=1) + cells.places
        found = sheet.values.take(looks, mode="clip")
        kept = np.flatnonzero((found >= least[chosen].take(cells.turns, axis=1)).all(axis=0))
        disc += many
        tired = not thorough and disc > _SORTED_DISCS and len(kept) > _TIRED * len(cells)
        if len(kept) < len(cells):
            cells = cells.take(kept)
        if tired:
            break
    return cells


def _deadliest_first(
    sheet: Sheet, jumps: NDArray[np.int64], least: NDArray[np.int16], cells: Cells
) -> NDArray[np.int64]:
    """All discs, first those that rule out most of a sample."""
    import numpy as np

    sample = cells.take(np.arange(0, len(cells), len(cells) // _SAMPLE))
    order = deadliest_first(sheet, jumps, least, sample, most=_SORTED_DISCS)
    rest = np.setdiff1d(np.arange(len(jumps)), order)
    return np.concatenate([np.array(order, dtype=np.int64), rest])


def deadliest_first(
    sheet: Sheet,
    jumps: NDArray[np.int64],
    least: NDArray[np.integer],
    sample: Cells,
    *,
    most: int,
) -> list[int]:
    """Discs in an order in which each rules out most of a sample that the earlier ones left."""
    looks = jumps.take(sample.turns, axis=1) + sample.places
    dead = sheet.values.take(looks, mode="clip") < least.take(sample.turns, axis=1)
    order: list[int] = []
    for _ in range(most):
        counts = dead.sum(axis=1)
        if not len(counts) or not counts.max():
            break
        order.append(int(counts.argmax()))
        dead = dead[:, ~dead[order[-1]]]
    return order


def _try_middles(sheet: Sheet, quest: Quest, progress: Progress, table: DiscTable) -> None:
    """Hand the middles that look roomy to the judge, and close the boards where one fits."""
    import numpy as np

    hopeful = sift(sheet, table, progress.cells, nominal_plus=0)
    if not len(hopeful):
        return
    easy = sift(sheet, table, hopeful, nominal_plus=_EASY_UNITS)
    done: set[int] = set()
    for cells in (easy, hopeful):
        # Cells stay in the order of their boards.
        boards = sheet.board_of(cells.places)
        for board in np.unique(boards).tolist():
            if board in done:
                continue
            first, last = np.searchsorted(boards, [board, board + 1]).tolist()
            some = cells.take(np.arange(first, last, max(1, (last - first) // _TRIES))[:_TRIES])
            if quest.judge(board, poses_of(sheet, quest.turns, table, some)):
                done.add(board)
    progress.fits |= done
    _close(sheet, progress, done)


def poses_of(sheet: Sheet, turns: Turns, table: DiscTable, cells: Cells) -> list[Pose]:
    """The middles of the cells."""
    return [pose_of_row(row) for row in rows_of(sheet, turns, table, cells)]


def pose_of_row(row: NDArray[np.float64]) -> Pose:
    """The pose of one row of :func:`rows_of`."""
    x_mm, y_mm, angle, side = row.tolist()
    return Pose(x_mm, y_mm, angle, int(side))


def rows_of(sheet: Sheet, turns: Turns, table: DiscTable, cells: Cells) -> NDArray[np.float64]:
    """The middles of the cells as rows of x, y, angle and side."""
    import numpy as np

    poses = [turns.pose(number, table.arcs) for number in range(turns.count(table.arcs))]
    board = sheet.board_of(cells.places)
    row, column = np.divmod(cells.places - sheet.starts[board], sheet.width)
    corners = np.array([(frame.left_mm, frame.bottom_mm) for frame in sheet.frames])[board]
    x_mm = corners[:, 0] + (column + table.block / 2) * sheet.step_mm
    y_mm = corners[:, 1] + (row + table.block / 2) * sheet.step_mm
    side, angle = np.array(poses, dtype=np.float64)[cells.turns].T
    return np.stack([x_mm, y_mm, angle, side], axis=1)


def _close(sheet: Sheet, progress: Progress, boards: set[int]) -> None:
    import numpy as np

    if boards:
        of = sheet.board_of(progress.cells.places)
        open_still = ~np.isin(of, list(boards))
        progress.cells = progress.cells.take(np.flatnonzero(open_still))


def _drop_crowded(sheet: Sheet, quest: Quest, progress: Progress) -> None:
    import numpy as np

    if len(progress.cells) <= quest.most_cells:
        return
    counts = np.bincount(sheet.board_of(progress.cells.places))
    crowded = set(np.flatnonzero(counts > quest.most_cells).tolist())
    progress.given_up |= crowded
    _close(sheet, progress, crowded)


def _cut(sheet: Sheet, quest: Quest, progress: Progress) -> None:
    """Each cell into four smaller ones, and each arc into two."""
    import numpy as np

    half = progress.block // 2
    shifts = np.array([0, half, half * sheet.width, half * (sheet.width + 1)])
    places, turns = progress.cells.places, progress.cells.turns
    places = (places[:, None] + shifts[None, :]).ravel()
    turns = np.repeat(turns, len(shifts))
    if not quest.turns.fixed:
        places = np.repeat(places, 2)
        turns = (2 * turns[:, None] + np.arange(2)[None, :]).ravel()
        progress.arcs *= 2
    progress.cells = Cells(places, turns)
    progress.block = half
