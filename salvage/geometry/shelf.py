"""
On which of many boards a shape fits, the first answers long before the last.

Boards are taken in the caller's order of preference. Plain measures decide most; the rest are
searched many at once on their 1 mm maps. Every *fit* is checked on the board's own outline, which
is asked for only then. A *no* is a proof, as for one board; *tight* means that one board should be
asked by itself (:func:`salvage.geometry.fit.fit`). Lengths are millimetres.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.geometry.fit import Verdict, why_not
from salvage.geometry.ground import Ground
from salvage.geometry.probes import Probes, probe_shape
from salvage.geometry.search import Pose, Quest, run
from salvage.geometry.sheet import Sheet, lay_out
from salvage.geometry.shelf_index import STEP_MM as _STEP_MM
from salvage.geometry.shelf_index import IndexHead, read_head, read_map
from salvage.geometry.spot import Prober, Spot, outfit_of
from salvage.geometry.survey import open_cells, reach_of, seek, try_near
from salvage.geometry.sweep import Sweep
from salvage.geometry.turning import DiscTable, Turns, first_arcs, turns_of
from salvage.records.region import Region

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

_BLOCK = 4
# Cells this wide set how many angles are looked at for an easy fit.
_LOOK_MM, _MOST_LOOKS = 8.0, 48
# With more open cells a board is looked at for easy fits first, then given up as undecided.
_FEW_CELLS, _MOST_CELLS = 6_000, 60_000
# Boards searched at once: few at first, so that the first answers come early.
_FIRST_BATCH, _LARGEST_BATCH = 16, 256
_SHEET_PIXELS = 8_000_000
_MOST_WAITING = 6  # times the batch, so that decided boards do not wait long for others


@dataclass(frozen=True, slots=True)
class ShelfBoard:
    """
    A board on the shelf.

    Args:
        key: What the caller knows it by.
        index: Its index (:func:`salvage.geometry.shelf_index.write_index`).
    """

    key: str
    index: bytes


@dataclass(frozen=True, slots=True)
class ShelfAnswer:
    """
    The answer for one board.

    Args:
        key: The board.
        verdict: ``fit``, ``no`` or ``tight``.
        spot: Where it fits, if it does.
    """

    key: str
    verdict: Verdict
    spot: Spot | None = None


@dataclass(frozen=True, slots=True)
class ShelfQuery:
    """
    What to look for on the shelf.

    Args:
        shape: What to cut.
        clearance_mm: Room to leave all round it.
        angles_mdeg: The only angles allowed, in thousandths of a degree; empty for all.
        mirrored_allowed: Whether it may be turned over.
    """

    shape: Region
    clearance_mm: float = 0.0
    angles_mdeg: tuple[int, ...] = ()
    mirrored_allowed: bool = False


def decide_shelf(
    query: ShelfQuery,
    boards: Iterable[ShelfBoard],
    load: Callable[[str], BaseGeometry],
    *,
    order: Callable[[ShelfBoard, IndexHead], object] | None = None,
) -> Iterator[ShelfAnswer]:
    """
    An answer for every board, in the order of preference, each as soon as it is known.

    Args:
        query: What to look for.
        boards: The shelf.
        load: The ground of a board by its key, in millimetres; called only where the shape seems
            to fit.
        order: Sort key of a board; by default the least ground first, so that small remnants are
            used up.
    """
    heads = [(board, read_head(board.index)) for board in boards]
    rank = order or _least_ground
    heads.sort(key=lambda pair: rank(*pair))  # type: ignore[arg-type,return-value]
    hunt = _Hunt(query, load)
    waiting: list[_Open] = []
    undecided, batch = 0, _FIRST_BATCH
    for board, head in heads:
        waiting.append(hunt.open(board, head))
        undecided += waiting[-1].verdict is None
        # What is decided goes out at once, unless a board before it is not.
        if not undecided or undecided == batch or len(waiting) == _MOST_WAITING * batch:
            yield from hunt.settle(waiting)
            batch = min(2 * batch, _LARGEST_BATCH) if undecided else batch
            waiting, undecided = [], 0
    yield from hunt.settle(waiting)


def _least_ground(board: ShelfBoard, head: IndexHead) -> tuple[float, str]:
    return head.area_mm2, board.key


@dataclass(slots=True)
class _Open:
    """A board with its answer so far."""

    board: ShelfBoard
    head: IndexHead
    verdict: Verdict | None
    spot: Spot | None = None
    prober: Prober | None = None
    map: NDArray[np.int16] | None = None


def _open(boards: Sequence[_Open]) -> list[_Open]:
    return [one for one in boards if one.verdict is None]


class _Hunt:
    """One query on its way along the shelf."""

    def __init__(self, query: ShelfQuery, load: Callable[[str], BaseGeometry]) -> None:
        self.query = query
        self.load = load
        self.probes: Probes = probe_shape(query.shape)
        self.outfit = outfit_of(self.probes, query.clearance_mm)
        self.turns: Turns = turns_of(
            self.probes,
            angles_mdeg=list(query.angles_mdeg) or None,
            mirrored_allowed=query.mirrored_allowed,
        )
        self._tables: dict[tuple[int, int, float], DiscTable] = {}

    def open(self, board: ShelfBoard, head: IndexHead) -> _Open:
        """The board, decided already if its plain measures tell."""
        clearance = self.query.clearance_mm
        if why_not(self.probes, head.parts, clearance_mm=clearance):
            return _Open(board, head, "no")
        largest = head.parts[0]
        if largest.inscribed_mm >= self.probes.enclosing_mm + clearance:
            prober = self._prober(board)
            side, angle = self.turns.pose(0, 1)
            if prober.judge_enclosing(largest.x_mm, largest.y_mm, angle=angle, side=side):
                return _Open(board, head, "fit", prober.spots[0])
        if self.probes.symmetry.is_round:
            return _Open(board, head, "tight")
        return _Open(board, head, None)

    def settle(self, waiting: Sequence[_Open]) -> Iterator[ShelfAnswer]:
        """Decide those that are open, together, and give the answers of all in order."""
        for some in self._sheetfuls(_open(waiting)):
            self._look(some)
            crowded = self._prove(_open(some), most=_FEW_CELLS)
            self._seek(crowded)
            for one in self._prove(_open(crowded), most=_MOST_CELLS):
                one.verdict = "tight"
        for one in waiting:
            yield ShelfAnswer(one.board.key, one.verdict or "tight", one.spot)

    def _sheetfuls(self, undecided: Sequence[_Open]) -> Iterator[list[_Open]]:
        """The boards a few at a time, so that a sheet of them stays in the processor's memory."""
        some: list[_Open] = []
        margin = self.probes.reach_mm / _STEP_MM
        pixels = 0.0
        for one in undecided:
            some.append(one)
            pixels += (one.head.frame.columns + margin) * (one.head.frame.rows + margin)
            if pixels > _SHEET_PIXELS:
                yield some
                some, pixels = [], 0.0
        if some:
            yield some

    def _look(self, some: Sequence[_Open]) -> None:
        """Decide the boards on which the shape fits round the middle of the largest circle."""
        sheet, quest = self._laid_out(some)
        largest = [one.head.parts[0] for one in some]
        centres = [(part.x_mm, part.y_mm) for part in largest]
        try_near(sheet, quest, self._looks(quest, sheet), centres)

    def _seek(self, some: Sequence[_Open]) -> None:
        """Decide the boards on which the shape fits easily anywhere."""
        if some:
            sheet, quest = self._laid_out(some)
            table = self._looks(quest, sheet)
            seek(Sweep(sheet, block=_BLOCK, reach=reach_of(table)), quest, table)

    def _prove(self, some: Sequence[_Open], *, most: int) -> list[_Open]:
        """Decide the boards as far as their maps tell; those with too many open cells are left."""
        if not some:
            return []
        sheet, quest = self._laid_out(some)
        arcs = first_arcs(self.probes, self.turns, cell_mm=_BLOCK * sheet.step_mm)
        table = quest.table(sheet, arcs=arcs, block=_BLOCK)
        sweep = Sweep(sheet, block=_BLOCK, reach=reach_of(table))
        progress = open_cells(sweep, quest, table, most=most)
        run(sheet, quest, progress)
        still_open = set(sheet.board_of(progress.cells.places).tolist())
        for number, one in enumerate(some):
            if one.verdict is None and number not in progress.given_up:
                one.verdict = "tight" if number in still_open else "no"
        return _open(some)

    def _looks(self, quest: Quest, sheet: Sheet) -> DiscTable:
        looks = first_arcs(self.probes, self.turns, cell_mm=_LOOK_MM)
        return quest.table(sheet, arcs=min(looks, _MOST_LOOKS), block=_BLOCK)

    def _laid_out(self, some: Sequence[_Open]) -> tuple[Sheet, Quest]:
        """The boards' maps on one sheet, and a judge of them that keeps what fits."""

        def judge(number: int, poses: Sequence[Pose]) -> bool:
            one = some[number]
            one.prober = one.prober or self._prober(one.board)
            if not one.prober.judge(0, poses):
                return False
            one.verdict, one.spot = "fit", one.prober.spots[0]
            return True

        for one in some:
            if one.map is None:
                one.map = read_map(one.board.index, one.head)
        sheet = lay_out(
            [one.map for one in some if one.map is not None],
            [one.head.frame for one in some],
            reach_mm=self.probes.reach_mm + 1.0,
        )
        clearance = self.query.clearance_mm
        return sheet, Quest(
            self.probes, self.turns, clearance, judge, _MOST_CELLS, tables=self._tables
        )

    def _prober(self, board: ShelfBoard) -> Prober:
        return Prober(Ground(self.load(board.key)), self.outfit)
