"""Distances to edges agree with the library's own."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from salvage.geometry.edges import Edges, Nearby
from tests.benchmarks.boards import make_board


@pytest.mark.parametrize("number", [2, 3, 5])
def test_a_point_is_as_far_from_the_edge_as_the_library_says(number: int) -> None:
    """Inside, outside and in holes."""
    area = make_board(number).ground().area
    xs, ys = np.random.default_rng(number).uniform(-20, 260, (2, 300))

    assert Edges(area).distances(xs, ys) == pytest.approx(
        shapely.distance(area.boundary, shapely.points(xs, ys)), abs=1e-9
    )


def test_points_that_move_a_little_are_measured_against_the_edges_kept() -> None:
    """Up to half the distance that was allowed for, nothing is missed."""
    area = make_board(3).ground().area
    rng = np.random.default_rng(8)
    xs, ys = rng.uniform(0, 150, (2, 60))
    near = Nearby(Edges(area), xs, ys, within_mm=3.0)
    moved_x, moved_y = (at + rng.uniform(-1, 1, (5, 60)) for at in (xs, ys))
    points = shapely.points(moved_x, moved_y)

    assert near.distances(moved_x, moved_y) == pytest.approx(
        shapely.distance(area.boundary, points), abs=1e-9
    )
