"""
The first look at many boards: where a shape fits easily, and what cannot be ruled out.

Both ask only those few discs that say most; what they leave is looked at with all of them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.geometry.search import Cells, Progress, Quest, deadliest_first, poses_of, sift
from salvage.geometry.sweep import Discs, Sweep

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from salvage.geometry.sheet import Sheet
    from salvage.geometry.turning import DiscTable

# More discs than this seldom rule out what the first ones did not.
_ASKED = 20
_SAMPLE = 1000
# Thresholds this far apart share their bits: half a millimetre for proofs, which lose a little by
# it, and a tenth for looking.
_PROOF_STEP, _LOOK_STEP = 50, 10
_EASY_UNITS = 30
# Places round a centre: so many to each side, so far apart.
_NEAR, _NEAR_PACE_MM = 2, 4.0
_TURNS_AT_ONCE, _TURNS_IN_ROW = 4, 24
_CANDIDATES, _TRIES = 64, 6


def reach_of(table: DiscTable) -> int:
    """How many pixels the discs of a table lie away at most."""
    return int(max(abs(table.dx).max(), abs(table.dy).max()))


def try_near(
    sheet: Sheet, quest: Quest, table: DiscTable, centres: Sequence[tuple[float, float]]
) -> set[int]:
    """
    Boards where the shape was found to fit near one centre, such as that of the largest circle.

    There lie most of the places where a shape fits at all: its own largest disc, or the circle
    round it, at or near that centre.
    """
    found: set[int] = set()
    for around in (0, _NEAR):
        cells = _near(sheet, quest, table, centres, around=around, without=found)
        cells = sift(sheet, table, cells, nominal_plus=_EASY_UNITS)
        found |= _judge(sheet, quest, table, cells)
    return found


def seek(sweep: Sweep, quest: Quest, table: DiscTable) -> set[int]:
    """Boards where the shape was found to fit, at places with a little to spare."""
    import numpy as np

    # What a middle needs and a little more, so that nearly every candidate holds.
    least = -(-(table.nominal.astype(np.int64) + _EASY_UNITS) // _LOOK_STEP) * _LOOK_STEP
    discs = Discs(table.dx, table.dy, least)
    order = _telling(sweep, discs)
    found: set[int] = set()
    for turns in _scattered(table.dx.shape[1]):
        cells = _candidates(sweep, discs, order, turns)
        cells = sift(sweep.sheet, table, cells, nominal_plus=_EASY_UNITS)
        new = _judge(sweep.sheet, quest, table, cells)
        if new:
            sweep.close(new)
            found |= new
        if len(found) == len(sweep.sheet.frames):
            break
    return found


def open_cells(sweep: Sweep, quest: Quest, table: DiscTable, *, most: int) -> Progress:
    """What the telling discs leave; boards with more than *most* cells are given up."""
    import numpy as np

    sheet, block = sweep.sheet, table.block
    discs = Discs(table.dx, table.dy, table.proof.astype(np.int64) // _PROOF_STEP * _PROOF_STEP)
    order = _telling(sweep, discs)
    left: list[Cells] = []
    counts = np.zeros(len(sheet.frames), dtype=np.int64)
    crowded: set[int] = set()
    for turns in _in_row(table.dx.shape[1]):
        cells = _swept(sweep, discs, order, turns)
        left.append(cells)
        counts += np.bincount(sheet.board_of(cells.places), minlength=len(counts))
        full = set(np.flatnonzero(counts > most).tolist()) - crowded
        if full:
            sweep.close(full)
            crowded |= full
    cells = _in_order(left)
    if crowded:
        of = sheet.board_of(cells.places)
        cells = cells.take(np.flatnonzero(~np.isin(of, list(crowded))))
    return Progress(cells, table.arcs, block, set(), crowded)


def _judge(sheet: Sheet, quest: Quest, table: DiscTable, cells: Cells) -> set[int]:
    """The boards on which one of a few of these cells' middles fits."""
    import numpy as np

    boards = sheet.board_of(cells.places)
    found: set[int] = set()
    for board in np.unique(boards).tolist():
        first, last = np.searchsorted(boards, [board, board + 1]).tolist()
        some = cells.take(np.arange(first, last, max(1, (last - first) // _TRIES))[:_TRIES])
        if quest.judge(board, poses_of(sheet, quest.turns, table, some)):
            found.add(board)
    return found


def _near(
    sheet: Sheet,
    quest: Quest,
    table: DiscTable,
    centres: Sequence[tuple[float, float]],
    *,
    around: int,
    without: set[int],
) -> Cells:
    """Cells that put the shape's largest disc or the circle round it near a board's centre."""
    import numpy as np

    probes, turns = quest.probes, quest.turns
    poses = [turns.pose(number, table.arcs) for number in range(table.dx.shape[1])]
    side, angle = np.array(poses, dtype=np.float64).T
    (cx, cy), (ex, ey) = probes.centre_mm, probes.enclosing_at_mm
    across = side * (ex - cx) * np.cos(angle) - (ey - cy) * np.sin(angle)
    upward = side * (ex - cx) * np.sin(angle) + (ey - cy) * np.cos(angle)
    away = np.arange(-around, around + 1) * _NEAR_PACE_MM
    xs = np.stack([-across, 0 * across])[:, None, None, :] + away[None, None, :, None]
    ys = np.stack([-upward, 0 * upward])[:, None, None, :] + away[None, :, None, None]
    xs, ys = (np.broadcast_to(part, (2, len(away), len(away), len(poses))) for part in (xs, ys))
    numbers = np.broadcast_to(np.arange(len(poses)), xs.shape)
    none = np.array([], dtype=np.int64)
    places, which = [none], [none]
    middle = table.block / 2
    for board, (frame, start) in enumerate(zip(sheet.frames, sheet.starts.tolist(), strict=True)):
        if board in without:
            continue
        x, y = centres[board]
        column = np.round((x + xs - frame.left_mm) / frame.step_mm - middle).astype(np.int64)
        row = np.round((y + ys - frame.bottom_mm) / frame.step_mm - middle).astype(np.int64)
        held = (column >= 0) & (row >= 0) & (column < frame.columns) & (row < frame.rows)
        places.append((start + row * sheet.width + column)[held])
        which.append(numbers[held])
    return Cells(np.concatenate(places), np.concatenate(which))


def roomy_cells(sweep: Sweep, table: DiscTable) -> Cells:
    """Cells in whose middles the telling discs have room."""
    import numpy as np

    discs = Discs(table.dx, table.dy, table.nominal.astype(np.int64))
    turns = range(table.dx.shape[1])
    return _in_order([_swept(sweep, discs, _telling(sweep, discs), turns)])


def nothing_left(table: DiscTable) -> Progress:
    """A search with no cell left."""
    import numpy as np

    none = np.array([], dtype=np.int64)
    return Progress(Cells(none, none), table.arcs, table.block, set(), set())


def _scattered(count: int) -> Iterator[range]:
    """All numbers, a few at a time, each few spread over all."""
    groups = max(1, -(-count // _TURNS_AT_ONCE))
    for first in range(groups):
        yield range(first, count, groups)


def _in_row(count: int) -> Iterator[range]:
    for first in range(0, count, _TURNS_IN_ROW):
        yield range(first, min(count, first + _TURNS_IN_ROW))


def _candidates(sweep: Sweep, discs: Discs, order: list[int], turns: range) -> Cells:
    """Some cells of each board at these angles, in the order of the boards."""
    import numpy as np

    sheet = sweep.sheet
    cells = _in_order([_swept(sweep, discs, order, turns)])
    boards = sheet.board_of(cells.places)
    counts = np.bincount(boards, minlength=len(sheet.frames))
    rank = np.arange(len(cells)) - (counts.cumsum() - counts)[boards]
    pace = -(-counts // _CANDIDATES)
    chosen = np.flatnonzero(rank % np.maximum(pace, 1)[boards] == 0)
    return cells.take(chosen)


def _swept(sweep: Sweep, discs: Discs, order: list[int], turns: range) -> Cells:
    """All cells that the telling discs leave at these angles."""
    import numpy as np

    places = [sweep.places(discs, order, turn) for turn in turns]
    numbers = np.repeat(np.array(turns), [len(some) for some in places])
    return Cells(np.concatenate(places), numbers)


def _in_order(parts: list[Cells]) -> Cells:
    """Cells by their boards, as the search wants them."""
    import numpy as np

    places = np.concatenate([part.places for part in parts])
    turns = np.concatenate([part.turns for part in parts])
    order = np.argsort(places, kind="stable")
    return Cells(places[order], turns[order])


def _telling(sweep: Sweep, discs: Discs) -> list[int]:
    """The discs that together rule out most of a sample of what the largest one leaves."""
    import numpy as np

    sheet = sweep.sheet
    turns = discs.dx.shape[1]
    places = sweep.places(discs, [0], 0)
    if not len(places):
        return [0]
    some = np.linspace(0, len(places) - 1, min(_SAMPLE, len(places))).astype(np.int64)
    # Any number without a common factor scatters the angles over the places.
    sample = Cells(places[some], (np.arange(len(some)) * 7919) % turns)
    jumps = discs.dy * sheet.width + discs.dx
    order = deadliest_first(sheet, jumps, discs.least, sample, most=_ASKED)
    return [0, *(disc for disc in order if disc)]
