"""Which angles are tried, and how many arcs they are cut into."""

from __future__ import annotations

import math

import numpy as np
import pytest

from salvage.geometry.outline import circle, rectangle
from salvage.geometry.probes import probe_shape
from salvage.geometry.turning import disc_table, first_arcs, turns_of
from tests.benchmarks.boards import tern, two_lobed


def test_arcs_are_as_fine_as_the_cells() -> None:
    """In one arc the outermost disc moves no farther than half a cell's diagonal."""
    probes = probe_shape(two_lobed(60))
    turns = turns_of(probes, angles_mdeg=None, mirrored_allowed=False)
    arcs = first_arcs(probes, turns, cell_mm=4.0)

    assert probes.reach_mm * math.pi / arcs <= 4 / math.sqrt(2)
    assert first_arcs(probes, turns, cell_mm=2.0) == pytest.approx(2 * arcs, abs=2)


def test_both_sides_are_tried_for_a_tern() -> None:
    """Numbers run through the angles of the one side, then those of the other."""
    probes = probe_shape(tern(90))
    turns = turns_of(probes, angles_mdeg=None, mirrored_allowed=True)

    assert turns.count(6) == 12
    assert [turns.pose(number, 6)[0] for number in (0, 5, 6, 11)] == [1, 1, -1, -1]
    assert turns.pose(6, 6)[1] == turns.pose(0, 6)[1]


def test_fixed_angles_are_kept_to_the_thousandth_of_a_degree() -> None:
    """No arc stands round a fixed angle."""
    probes = probe_shape(tern(90))
    turns = turns_of(probes, angles_mdeg=[12_345, 200_001], mirrored_allowed=False)
    angles = [round(math.degrees(turns.pose(n, 0)[1]) * 1000) for n in range(2)]

    assert angles == [12_345, 200_001]
    assert first_arcs(probes, turns, cell_mm=8.0) == 2


def test_a_finer_cell_asks_for_more() -> None:
    """Halving cells and arcs never lowers what a proof needs; the middle needs the most."""
    probes = probe_shape(rectangle(40, 25))
    turns = turns_of(probes, angles_mdeg=None, mirrored_allowed=False)
    coarse, fine = (
        disc_table(probes, turns, arcs=arcs, block=block, step_mm=0.5, clearance_mm=0.5)
        for arcs, block in ((8, 8), (16, 4))
    )

    assert (coarse.proof < fine.proof.max(axis=1, keepdims=True)).all()
    assert (fine.proof < fine.nominal).all()
    assert int(fine.nominal[0, 0]) >= 1300


def test_the_look_lies_within_half_a_diagonal_of_the_disc() -> None:
    """A disc at the middle of turning is looked for in the middle of its cell."""
    probes = probe_shape(circle(20))
    turns = turns_of(probes, angles_mdeg=None, mirrored_allowed=False)
    table = disc_table(probes, turns, arcs=1, block=1, step_mm=0.5, clearance_mm=0.0)

    assert np.array_equal(table.dx, [[0]])
    assert np.array_equal(table.dy, [[0]])
    # 10 mm less half a pixel's diagonal, the allowance, and the step from arc to chord.
    assert int(table.proof[0, 0]) == pytest.approx(1000 - 35.4 - 1.0, abs=4)
