"""Cells are dropped only when no place and angle in them has room."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from salvage.geometry.ground import COARSE_MM, ground_of_regions
from salvage.geometry.outline import circle, rectangle
from salvage.geometry.probes import probe_shape
from salvage.geometry.search import Cells, Progress, Quest, first_cells, poses_of, run, sift
from salvage.geometry.sheet import lay_out
from salvage.geometry.turning import Turns, first_arcs, turns_of
from tests.benchmarks.boards import make_board, two_lobed

SHAPE = two_lobed(40)


def quest_for(turns: Turns, *, most_cells: int = 10**6) -> Quest:
    """A search that believes no pose, so that only proofs close cells."""
    return Quest(probe_shape(SHAPE), turns, 0.0, lambda board, poses: False, most_cells)


@given(
    st.floats(0, 50),
    st.floats(0, 30),
    st.floats(0, 6.28),
    st.sampled_from([1, 2, 4, 8, 16]),
)
def test_the_cell_of_a_fit_is_never_dropped(
    x_mm: float, y_mm: float, angle: float, block: int
) -> None:
    """Wherever the shape lies free, the cell that holds its place and angle stays open."""
    probes = probe_shape(SHAPE)
    turns = turns_of(probes, angles_mdeg=None, mirrored_allowed=False)
    room = 100.0
    ground = ground_of_regions([rectangle(room, room)])
    sheet = ground.sheet(COARSE_MM, reach_mm=probes.reach_mm + 1)
    arcs = first_arcs(probes, turns, cell_mm=block * COARSE_MM)
    table = quest_for(turns).table(sheet, arcs=arcs, block=block)
    # The shape's discs, turned, moved so that they just stay on the board.
    xs = probes.xs * np.cos(angle) - probes.ys * np.sin(angle)
    ys = probes.xs * np.sin(angle) + probes.ys * np.cos(angle)
    low_x, low_y = (probes.radii - xs).max(), (probes.radii - ys).max()
    high_x, high_y = (room - probes.radii - xs).min(), (room - probes.radii - ys).min()
    at_x, at_y = min(low_x + x_mm, high_x), min(low_y + y_mm, high_y)
    frame = sheet.frames[0]
    column = int((at_x - frame.left_mm) / COARSE_MM) // block * block
    row = int((at_y - frame.bottom_mm) / COARSE_MM) // block * block
    place = sheet.starts[0] + row * sheet.width + column
    turn = min(int(angle / (2 * np.pi) * arcs), arcs - 1)
    cell = Cells(np.array([place]), np.array([turn]))

    assert len(sift(sheet, table, cell)) == 1


def test_a_shape_too_large_leaves_no_cell() -> None:
    """Everything is ruled out; nothing is given up."""
    probes = probe_shape(SHAPE)
    turns = turns_of(probes, angles_mdeg=None, mirrored_allowed=False)
    sheet = ground_of_regions([rectangle(100, 30)]).sheet(COARSE_MM, reach_mm=probes.reach_mm + 1)
    quest = quest_for(turns)
    progress = Progress(first_cells(sheet, quest, arcs=8, block=16), 8, 16, set(), set())
    run(sheet, quest, progress)

    assert (len(progress.cells), progress.fits, progress.given_up) == (0, set(), set())


def test_a_crowded_board_is_given_up_and_the_others_go_on() -> None:
    """Two boards at once: the roomy one has too many open cells, the small one is decided."""
    probes = probe_shape(SHAPE)
    turns = turns_of(probes, angles_mdeg=None, mirrored_allowed=False)
    drawn = [ground_of_regions([r]).distance_map(1.0) for r in (rectangle(90, 90), circle(30))]
    sheet = lay_out([d for d, _ in drawn], [f for _, f in drawn], reach_mm=probes.reach_mm + 1)
    quest = quest_for(turns, most_cells=2000)
    progress = Progress(first_cells(sheet, quest, arcs=8, block=8), 8, 8, set(), set())
    run(sheet, quest, progress)

    assert progress.given_up == {0}
    assert len(progress.cells) == 0


def test_poses_are_the_middles_of_cells() -> None:
    """A cell of 4 pixels of half a millimetre: its middle is one millimetre in."""
    probes = probe_shape(SHAPE)
    turns = turns_of(probes, angles_mdeg=None, mirrored_allowed=True)
    ground = make_board(2).ground()
    sheet = ground.sheet(COARSE_MM, reach_mm=probes.reach_mm + 1)
    table = quest_for(turns).table(sheet, arcs=4, block=4)
    cell = Cells(sheet.starts[:1] + 10 * sheet.width + 20, np.array([1]))
    (pose,) = poses_of(sheet, turns, table, cell)
    frame = sheet.frames[0]

    assert pose.x_mm == pytest.approx(frame.left_mm + 11)
    assert pose.y_mm == pytest.approx(frame.bottom_mm + 6)
    assert pose.angle == pytest.approx(1.5 * 2 * np.pi / 4)


def test_symmetric_angles_are_left_out() -> None:
    """A square needs a quarter turn, a mirror image of a mirrored shape nothing new."""
    square, leaf = probe_shape(rectangle(30, 30)), probe_shape(SHAPE)

    assert turns_of(square, angles_mdeg=None, mirrored_allowed=True).period == np.pi / 2
    assert turns_of(square, angles_mdeg=[0, 90_000, 10_000], mirrored_allowed=False).count(0) == 2
    assert turns_of(leaf, angles_mdeg=None, mirrored_allowed=True).sides == (1,)


def test_stopping_early_keeps_at_least_what_every_disc_keeps() -> None:
    """A sift that stops when it rules out little loses no place; it only leaves more open."""
    probes = probe_shape(SHAPE)
    turns = turns_of(probes, angles_mdeg=None, mirrored_allowed=False)
    sheet = make_board(2).ground().sheet(COARSE_MM, reach_mm=probes.reach_mm + 1)
    quest = quest_for(turns)
    arcs = first_arcs(probes, turns, cell_mm=4)
    cells = first_cells(sheet, quest, arcs=arcs, block=8)
    table = quest.table(sheet, arcs=arcs, block=8)
    every = sift(sheet, table, cells)
    early = sift(sheet, table, cells, thorough=False)
    pairs = [set(zip(c.places.tolist(), c.turns.tolist(), strict=True)) for c in (every, early)]

    assert 0 < len(every) <= len(early) < len(cells)
    assert pairs[0] <= pairs[1]
