"""A finer map of just the window in which a question is open."""

from __future__ import annotations

import numpy as np
import pytest

from salvage.geometry.ground import COARSE_MM
from salvage.geometry.magnify import magnify
from salvage.geometry.probes import probe_shape
from salvage.geometry.search import Cells, Quest, poses_of, sift
from salvage.geometry.turning import turns_of
from tests.benchmarks.boards import make_board, two_lobed

SHAPE = two_lobed(40)
PROBES = probe_shape(SHAPE)
TURNS = turns_of(PROBES, angles_mdeg=None, mirrored_allowed=False)
QUEST = Quest(PROBES, TURNS, 0.5, lambda board, poses: False, 10**6)


def test_cells_keep_their_place_on_the_finer_map() -> None:
    """A pixel of half a millimetre becomes four of a quarter, about the same middle."""
    ground = make_board(2).ground()
    coarse = ground.sheet(COARSE_MM, reach_mm=PROBES.reach_mm + 1)
    at = coarse.starts[0] + np.array([40, 33 * coarse.width + 90, 71 * coarse.width + 8])
    cells = Cells(at, np.array([0, 3, 5]))
    before = poses_of(coarse, TURNS, QUEST.table(coarse, arcs=8, block=1), cells)
    found = magnify(ground, coarse, cells, probes=PROBES, clearance_mm=0.5, most_pixels=10**7)
    assert found is not None
    fine, carried = found

    assert poses_of(fine, TURNS, QUEST.table(fine, arcs=8, block=2), carried) == before


def test_the_window_rules_out_nothing_that_the_whole_map_leaves_open() -> None:
    """What lies beyond the window is too far away to have a say."""
    ground = make_board(11).ground()
    coarse = ground.sheet(COARSE_MM, reach_mm=PROBES.reach_mm + 1)
    frame = coarse.frames[0]
    rng = np.random.default_rng(5)
    middle = ground.parts[0]
    column = int((middle.x_mm - frame.left_mm) / COARSE_MM) + rng.integers(0, 60, 3000)
    row = int((middle.y_mm - frame.bottom_mm) / COARSE_MM) + rng.integers(0, 60, 3000)
    cells = Cells(coarse.starts[0] + row * coarse.width + column, rng.integers(0, 64, 3000))
    window = magnify(ground, coarse, cells, probes=PROBES, clearance_mm=0.5, most_pixels=10**7)
    whole = ground.sheet(COARSE_MM / 2, reach_mm=PROBES.reach_mm + 1)
    places = whole.starts[0] + 2 * row * whole.width + 2 * column
    assert window is not None
    sheet, carried = window
    kept = sift(sheet, QUEST.table(sheet, arcs=64, block=2), carried)
    kept_on_whole = sift(whole, QUEST.table(whole, arcs=64, block=2), Cells(places, cells.turns))

    assert sheet.frames[0].columns < whole.frames[0].columns
    assert 0 < len(kept) < len(cells)
    assert len(kept) == len(kept_on_whole)


@pytest.mark.parametrize("most", [1, 1000])
def test_a_window_that_is_too_large_is_not_drawn(most: int) -> None:
    """Then the answer stays open."""
    ground = make_board(2).ground()
    coarse = ground.sheet(COARSE_MM, reach_mm=PROBES.reach_mm + 1)
    cells = Cells(coarse.starts[:1] + 40, np.array([0]))

    assert magnify(ground, coarse, cells, probes=PROBES, clearance_mm=0.5, most_pixels=most) is None
