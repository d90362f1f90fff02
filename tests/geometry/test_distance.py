"""The map of distances never says less room than there is, or a proof would be none."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import Point, box

from salvage.geometry.distance import MARGIN_MM, UNITS_PER_MM, draw_distance
from salvage.geometry.raster import frame_round


@pytest.mark.parametrize("step_mm", [0.25, 0.5, 1.0])
@given(
    st.lists(
        st.tuples(st.integers(0, 3000), st.integers(0, 2000), st.integers(10, 900)),
        min_size=1,
        max_size=4,
    ),
    st.integers(0, 90),
)
def test_the_map_is_never_too_small(
    step_mm: float, holes: list[tuple[int, int, int]], angle: int
) -> None:
    """A board with holes and thin webs, against the library's own distances."""
    area = box(0, 0, 30, 20).difference(
        shapely.union_all([Point(x / 100, y / 100).buffer(r / 100) for x, y, r in holes])
    )
    area = shapely.affinity.rotate(area, angle, origin=(0, 0))
    frame = frame_round(area.bounds, step_mm=step_mm, margin_mm=MARGIN_MM)
    drawn = draw_distance(area, frame) / UNITS_PER_MM
    xs = frame.left_mm + (np.arange(frame.columns) + 0.5) * step_mm
    ys = frame.bottom_mm + (np.arange(frame.rows) + 0.5) * step_mm
    grid_x, grid_y = (grid.ravel() for grid in np.meshgrid(xs, ys))
    away = shapely.distance(area.boundary, shapely.points(grid_x, grid_y))
    true = np.where(shapely.contains_xy(area, grid_x, grid_y), away, -away)

    assert (drawn.ravel() >= np.maximum(true, -4.0) - 1e-6).all()


def test_the_middle_of_a_disc_is_as_deep_as_its_radius() -> None:
    """A 60 mm disc: 30 mm at its centre, to half a pixel's diagonal."""
    disc = Point(0, 0).buffer(30, quad_segs=64)
    frame = frame_round(disc.bounds, step_mm=0.5, margin_mm=MARGIN_MM)
    deepest = draw_distance(disc, frame).max() / UNITS_PER_MM

    assert deepest == pytest.approx(30, abs=0.5 * math.sqrt(0.5))
    assert deepest >= 29.6


def test_far_outside_is_told_apart_from_near() -> None:
    """At 5 mm from the board the map says 4; at the board's edge next to nothing."""
    frame = frame_round((0, 0, 10, 10), step_mm=0.5, margin_mm=MARGIN_MM)
    row = draw_distance(box(0, 0, 10, 10), frame)[22]

    assert row[0] == -4 * UNITS_PER_MM
    assert -60 <= row[11] <= 0
