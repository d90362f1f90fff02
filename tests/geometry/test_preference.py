"""Scores say what they promise."""

from __future__ import annotations

import numpy as np
import pytest

from salvage.geometry.ground import ground_of_regions
from salvage.geometry.outline import rectangle
from salvage.geometry.preference import Rich, Snug, Whole
from salvage.geometry.probes import probe_shape
from salvage.geometry.spot import outfit_of

GROUND = ground_of_regions([rectangle(100, 60)])
OUTFIT = outfit_of(probe_shape(rectangle(20, 20)), 0.0)
CORNER, MIDDLE = (10.5, 10.5, 0.0, 1.0), (50.0, 30.0, 0.0, 1.0)


def test_a_corner_is_snugger_than_the_middle() -> None:
    """Air between the tile and the edges, in millimetres, counts against a place."""
    corner, middle = Snug().rate(GROUND, OUTFIT, np.array([CORNER, MIDDLE])).tolist()

    assert -20.5 < middle < -15
    assert corner > middle + 4


def test_a_tile_in_the_middle_leaves_the_smaller_circle() -> None:
    """Beside a tile at the left end a circle of 30 mm radius is left, else not."""
    corner, middle = Whole(2.0).rate(GROUND, OUTFIT, np.array([CORNER, MIDDLE])).tolist()

    assert corner == pytest.approx(30, abs=0.2)
    assert middle < 25


@pytest.mark.parametrize("angle", [0.0, 0.7, 3.1])
def test_richness_is_the_mean_under_the_shape(angle: float) -> None:
    """Rich on the left half: wholly over it 1, astride 0.5, off the map 0."""
    values = np.zeros((6, 10))
    values[:, :5] = 1.0
    rows = np.array([(25, 30, angle, 1), (50, 30, angle, 1), (-200, 0, angle, 1)])
    left, astride, off = Rich(values, 0.0, 0.0, 10.0).rate(GROUND, OUTFIT, rows).tolist()

    assert left == pytest.approx(1)
    assert astride == pytest.approx(0.5, abs=0.06)
    assert off == 0
