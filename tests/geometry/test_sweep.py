"""Places decided as rows of bits are the same as those looked up one by one."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from salvage.geometry.ground import COARSE_MM, ground_of_regions
from salvage.geometry.outline import rectangle
from salvage.geometry.probes import probe_shape
from salvage.geometry.search import Cells, Quest, first_cells, sift
from salvage.geometry.sheet import Sheet, lay_out
from salvage.geometry.sweep import Discs, Sweep
from salvage.geometry.turning import turns_of
from tests.benchmarks.boards import make_board, tern

SHAPE = tern(60)


def two_boards(step_mm: float) -> Sheet:
    """A used board and a small plain one on one sheet."""
    grounds = [make_board(3).ground(), ground_of_regions([rectangle(61, 43)])]
    drawn = [ground.distance_map(step_mm) for ground in grounds]
    reach = probe_shape(SHAPE).reach_mm + 1
    return lay_out([one for one, _ in drawn], [frame for _, frame in drawn], reach_mm=reach)


def quest() -> Quest:
    """The bird at any angle."""
    turns = turns_of(probe_shape(SHAPE), angles_mdeg=None, mirrored_allowed=True)
    return Quest(probe_shape(SHAPE), turns, 0.5, lambda board, poses: False, 10**6)


@pytest.mark.parametrize("block", [1, 2, 4])
@pytest.mark.parametrize("turn", [0, 5, 13])
def test_the_bits_say_what_looking_up_says(block: int, turn: int) -> None:
    """Every place of two boards, with all discs of a bird, asked in both ways."""
    sheet = two_boards(1.0)
    table = quest().table(sheet, arcs=8, block=block)
    discs = Discs(table.dx, table.dy, table.proof.astype(np.int64))
    sweep = Sweep(sheet, block=block, reach=70)
    swept = sweep.places(discs, range(len(table.dx)), turn)
    cells = first_cells(sheet, quest(), arcs=8, block=block)
    looked = sift(sheet, table, cells)

    assert len(swept) > 0
    assert swept.tolist() == looked.places[looked.turns == turn].tolist()


@given(st.integers(-300, 2000), st.integers(-60, 60), st.integers(-60, 60))
def test_one_disc_anywhere(least: int, dx: int, dy: int) -> None:
    """A place counts when the map holds enough so far to the right and up of it."""
    sheet = two_boards(COARSE_MM)
    one = np.array([[1]])
    discs = Discs(dx * one, dy * one, least * one)
    swept = Sweep(sheet, block=2, reach=60).places(discs, [0], 0)
    every = first_cells(sheet, quest(), arcs=1, block=2).places
    every = np.unique(
        np.concatenate(
            [every, Sweep(sheet, block=2, reach=1).places(Discs(one, one, -400 * one), [0], 0)]
        )
    )
    held = sheet.values.take(every + dy * sheet.width + dx, mode="clip") >= least

    assert swept.tolist() == every[held].tolist()


def test_a_closed_board_has_no_place_any_more() -> None:
    """Once a fit is found there the board is left out; the other keeps its places."""
    sheet = two_boards(1.0)
    one = np.array([[0]])
    discs = Discs(one, one, one + 100)
    sweep = Sweep(sheet, block=4, reach=1)
    before = sweep.places(discs, [0], 0)
    sweep.close([0])
    after = sweep.places(discs, [0], 0)

    assert set(sheet.board_of(before).tolist()) == {0, 1}
    assert after.tolist() == before[sheet.board_of(before) == 1].tolist()


def test_nothing_is_asked_by_a_disc_that_needs_less_than_any_place_has() -> None:
    """A thin shape's disc may have no say at all in large cells."""
    sheet = two_boards(1.0)
    one = np.array([[0]])
    count = sum((f.rows + 3) // 4 * ((f.columns + 3) // 4) for f in sheet.frames)

    assert len(Sweep(sheet, block=4, reach=1).places(Discs(one, one, one - 400), [0], 0)) == count
    assert isinstance(Cells(one[0], one[0]), Cells)
