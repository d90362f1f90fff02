"""The first look at many boards finds fits, and loses no place where a shape may lie."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from salvage.geometry.ground import Ground, ground_of_regions
from salvage.geometry.outline import rectangle
from salvage.geometry.probes import probe_shape
from salvage.geometry.search import Pose, Quest, first_cells, sift
from salvage.geometry.sheet import Sheet, lay_out
from salvage.geometry.spot import Prober, outfit_of
from salvage.geometry.survey import nothing_left, open_cells, reach_of, seek, try_near
from salvage.geometry.sweep import Sweep
from salvage.geometry.turning import first_arcs, turns_of
from salvage.records.region import Region
from tests.benchmarks.boards import fern_leaf, make_board, star


def grounds() -> list[Ground]:
    """Boards with room, one with hardly any, and one much too small."""
    made = [make_board(number).ground() for number in (2, 3, 4)]
    return [*made, ground_of_regions([rectangle(12, 12)])]


def laid_out(shape: Region, boards: Sequence[Ground]) -> tuple[Sheet, Quest, list[int]]:
    """The boards on one sheet, a judge that decides exactly, and the boards it said yes to."""
    probes = probe_shape(shape)
    drawn = [ground.distance_map(1.0) for ground in boards]
    sheet = lay_out(
        [one for one, _ in drawn], [frame for _, frame in drawn], reach_mm=probes.reach_mm + 1
    )
    fits: list[int] = []

    def judge(board: int, poses: Sequence[Pose]) -> bool:
        if Prober(boards[board], outfit_of(probes, 0.5)).judge(0, poses):
            fits.append(board)
            return True
        return False

    turns = turns_of(probes, angles_mdeg=None, mirrored_allowed=False)
    return sheet, Quest(probes, turns, 0.5, judge, 10**6), fits


@pytest.mark.parametrize("shape", [star(30), fern_leaf(20)])
@pytest.mark.parametrize("how", ["near", "anywhere"])
def test_what_is_found_was_judged(shape: Region, how: str) -> None:
    """Boards with room are found; each answer is the judge's own."""
    boards = grounds()
    sheet, quest, fits = laid_out(shape, boards)
    table = quest.table(sheet, arcs=24, block=4)
    if how == "near":
        centres = [(ground.parts[0].x_mm, ground.parts[0].y_mm) for ground in boards]
        found = try_near(sheet, quest, table, centres)
    else:
        found = seek(Sweep(sheet, block=4, reach=reach_of(table)), quest, table)

    assert sorted(fits) == sorted(found)
    assert {0, 2} <= found
    assert 3 not in found


@pytest.mark.parametrize("shape", [star(60), fern_leaf(40)])
def test_no_open_cell_is_lost(shape: Region) -> None:
    """What all discs leave open at a place and an angle, the survey leaves open too."""
    sheet, quest, _ = laid_out(shape, grounds())
    arcs = first_arcs(quest.probes, quest.turns, cell_mm=4)
    table = quest.table(sheet, arcs=arcs, block=4)
    progress = open_cells(Sweep(sheet, block=4, reach=reach_of(table)), quest, table, most=10**6)
    left = set(zip(progress.cells.places.tolist(), progress.cells.turns.tolist(), strict=True))
    looked = sift(sheet, table, first_cells(sheet, quest, arcs=arcs, block=4))
    every = set(zip(looked.places.tolist(), looked.turns.tolist(), strict=True))

    assert every
    assert every <= left
    assert (np.diff(sheet.board_of(progress.cells.places)) >= 0).all()


def test_a_crowded_board_is_left_out_and_named() -> None:
    """With too much left open a board is not searched cell by cell."""
    sheet, quest, _ = laid_out(star(30), grounds())
    table = quest.table(sheet, arcs=8, block=4)
    progress = open_cells(Sweep(sheet, block=4, reach=reach_of(table)), quest, table, most=50)

    assert {0, 2} <= progress.given_up
    assert not set(sheet.board_of(progress.cells.places).tolist()) & progress.given_up


def test_a_search_that_is_over_has_no_cell() -> None:
    """It names no board either: who ended it knows."""
    sheet, quest, _ = laid_out(star(30), grounds())
    over = nothing_left(quest.table(sheet, arcs=8, block=4))

    assert (len(over.cells), over.fits, over.given_up) == (0, set(), set())
