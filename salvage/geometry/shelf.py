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
from salvage.geometry.search import Pose, Progress, Quest, first_cells, glance, run
from salvage.geometry.sheet import lay_out
from salvage.geometry.shelf_index import IndexHead, read_head, read_map
from salvage.geometry.spot import Prober, Spot, outfit_of
from salvage.geometry.turning import Turns, first_arcs, turns_of
from salvage.records.region import Region

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

_FIRST_BLOCK = 8
_MOST_CELLS = 60_000
# Boards searched at once: few at first, so that the first answers come early.
_FIRST_BATCH, _LARGEST_BATCH = 16, 64
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
        undecided = [one for one in waiting if one.verdict is None]
        if undecided:
            self._search(undecided)
        for one in waiting:
            yield ShelfAnswer(one.board.key, one.verdict or "tight", one.spot)

    def _search(self, undecided: Sequence[_Open]) -> None:
        probers: dict[int, Prober] = {}

        def judge(number: int, poses: Sequence[Pose]) -> bool:
            if number not in probers:
                probers[number] = self._prober(undecided[number].board)
            return probers[number].judge(0, poses)

        sheet = lay_out(
            [read_map(one.board.index, one.head) for one in undecided],
            [one.head.frame for one in undecided],
            reach_mm=self.probes.reach_mm + 1.0,
        )
        quest = Quest(self.probes, self.turns, self.query.clearance_mm, judge, _MOST_CELLS)
        arcs = first_arcs(self.probes, self.turns, cell_mm=_FIRST_BLOCK * sheet.step_mm)
        cells = first_cells(sheet, quest, arcs=arcs, block=_FIRST_BLOCK)
        progress = Progress(cells, arcs, _FIRST_BLOCK, set(), set())
        glance(sheet, quest, progress)
        run(sheet, quest, progress)
        still_open = set(sheet.board_of(progress.cells.places).tolist()) | progress.given_up
        for number, one in enumerate(undecided):
            if number in progress.fits:
                one.verdict, one.spot = "fit", probers[number].spots[0]
            else:
                one.verdict = "tight" if number in still_open else "no"

    def _prober(self, board: ShelfBoard) -> Prober:
        return Prober(Ground(self.load(board.key)), self.outfit)
