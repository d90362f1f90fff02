"""Where two outlines overlap, place by place, against the geometry library."""

from __future__ import annotations

import math

import numpy as np
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from salvage.geometry.poses import Pose, Poses
from salvage.geometry.stencil import Stencil, depth_of, draw_stencil, overlap_mask

Points = NDArray[np.float64]
# Less is a touch, give or take the last digits.
TOUCH_AREA = 1e-3


@st.composite
def outlines(draw: st.DrawFn) -> Points:
    """Simple outlines, concave ones too, on whole numbers or not, counter-clockwise."""
    count = draw(st.integers(3, 14))
    radii = draw(st.lists(st.floats(2, 9), min_size=count, max_size=count))
    turn = draw(st.floats(0, 6))
    whole = draw(st.booleans())
    points = np.array(
        [
            (r * math.cos(turn + i * math.tau / count), r * math.sin(turn + i * math.tau / count))
            for i, r in enumerate(radii)
        ]
    )
    if whole:
        rounded = np.round(points)
        rounded = rounded[np.any(rounded != np.roll(rounded, 1, axis=0), axis=1)]
        polygon = shapely.Polygon(rounded) if len(rounded) > 2 else shapely.Polygon()
        if polygon.is_valid and polygon.area > 1 and polygon.exterior.is_ccw:
            return rounded
    return points


def says_overlap(stencil: Stencil, x: int, y: int) -> bool:
    """What the stencil says of a place."""
    row, column = y - stencil.bottom, x - stencil.left
    rows, columns = stencil.mask.shape
    return 0 <= row < rows and 0 <= column < columns and bool(stencil.mask[row, column])


def check_against_library(stencil: Stencil, still: Points, moved: Points) -> None:
    """Every other place in reach."""
    ground = shapely.Polygon(still)
    for x in range(-20, 21, 2):
        for y in range(-20, 21, 2):
            shared = ground.intersection(shapely.Polygon(moved + np.array([x, y]))).area
            if shared > TOUCH_AREA:
                assert says_overlap(stencil, x, y)
            elif shared == 0:
                assert not says_overlap(stencil, x, y)


@settings(max_examples=40, deadline=None)
@given(outlines(), outlines())
def test_a_stencil_says_where_outlines_overlap(still: Points, moved: Points) -> None:
    """Convex or not, touching or not: as the library's own overlay."""
    check_against_library(draw_stencil(still, moved), still, moved)


@settings(max_examples=15, deadline=None)
@given(outlines(), outlines(), st.integers(1, 3))
def test_turned_and_swapped_stencils_are_true_too(one: Points, two: Points, turns: int) -> None:
    """What is got by turning or swapping is what would have been drawn."""

    def turn(points: Points) -> Points:
        for _ in range(turns):
            points = np.stack([-points[:, 1], points[:, 0]], axis=1)
        return points

    family = [Pose(one, 0), Pose(turn(one), 0, turns), Pose(two, 1), Pose(turn(two), 1, turns)]
    poses = Poses(family)

    check_against_library(poses.between(0, 2), one, two)
    check_against_library(poses.between(1, 3), turn(one), turn(two))
    check_against_library(poses.between(3, 1), turn(two), turn(one))
    check_against_library(draw_stencil(one, two).swapped(), two, one)


def test_outlines_that_touch_do_not_overlap() -> None:
    """A square beside, above and at the corner of a square, and one in a notch with room."""
    square = np.array([(0, 0), (4, 0), (4, 4), (0, 4)], dtype=float)
    notch = np.array(
        [(0, 0), (13, 0), (13, 8), (9, 8), (9, 4), (4, 4), (4, 8), (0, 8)], dtype=float
    )

    beside = draw_stencil(square, square)
    fitting = draw_stencil(notch, square)

    free = [(4, 0), (0, 4), (-4, -4)]
    assert [says_overlap(beside, *place) for place in free] == [False] * 3
    assert [says_overlap(beside, *place) for place in ((3, 0), (3, 3))] == [True] * 2
    assert [says_overlap(fitting, *place) for place in ((4, 4), (5, 4))] == [False] * 2
    assert [says_overlap(fitting, *place) for place in ((3, 4), (4, 3), (6, 4))] == [True] * 3


def test_a_board_with_a_hole_is_kept_off_from_outside() -> None:
    """All that is no board is one outline, the board a hole in it, and its hole one again."""
    frame = np.array([(-1, -1), (31, -1), (31, 21), (-1, 21)], dtype=float)
    board = np.array([(0, 0), (0, 20), (30, 20), (30, 0)], dtype=float)
    hole = np.array([(10, 5), (20, 5), (20, 15), (10, 15)], dtype=float)
    disc = 3 * np.array([(math.cos(a), math.sin(a)) for a in np.linspace(0, math.tau, 20)[:-1]])
    ground = shapely.box(0, 0, 30, 20).difference(shapely.box(10, 5, 20, 15))

    stencil = Stencil(*overlap_mask([frame, board, hole], disc))

    for x in range(3, 28):
        for y in range(3, 18):
            lies = ground.covers(shapely.Polygon(disc + np.array([x, y])))
            assert says_overlap(stencil, x, y) != lies


@settings(max_examples=30, deadline=None)
@given(st.integers(1, 9), st.integers(1, 9), st.integers(0, 2**32 - 1))
def test_depth_is_the_distance_to_the_nearest_free_place(
    rows: int, columns: int, seed: int
) -> None:
    """Against a search through all pairs, to a thirty-second of a step."""
    mask = np.random.default_rng(seed).random((rows, columns)) < 0.8
    padded = np.pad(mask, 1)
    free = np.argwhere(~padded)

    depth = depth_of(mask)

    for row in range(rows):
        for column in range(columns):
            away = np.hypot(*(free - [row + 1, column + 1]).T).min() if mask[row, column] else 0.0
            assert away <= depth[row, column] <= away + 1 / 32 + 1e-6
