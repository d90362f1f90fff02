"""A board is filled from a corner, and what the grid allows is allowed on the board."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from salvage.geometry.outline import circle, rectangle, to_polygon
from salvage.geometry.pack_fill import CORNERS, Corner, Fill
from salvage.geometry.pack_site import Cutouts, Site
from salvage.geometry.placing import Placement, place
from salvage.geometry.shapes import built_in_shape
from salvage.records.region import Region

HOLED = Region(
    rectangle(100, 60).outer,
    (place(circle(14), Placement(40_000, 30_000)).outer[::-1],),
)


@settings(max_examples=10, deadline=None)
@given(st.sampled_from(["teardrop", "half-moon", "oval"]), st.integers(0, 359_999))
def test_every_place_the_grid_allows_is_on_the_board(name: str, mdeg: int) -> None:
    """A shape at any angle, at every seventh free place of a board with a hole."""
    shape = built_in_shape(name, width_mm=22)
    cutouts = Cutouts([shape], gap_mm=0, angles_mdeg=(mdeg,), step_mm=1)
    ground = to_polygon(HOLED)

    room = Site((HOLED,), cutouts).room(0)

    assert room.blocked is not None
    free = [
        (room.left + column, room.bottom + row)
        for row in range(room.rows)
        for column in range(room.columns)
        if not room.blocked[row, column]
    ]
    assert free
    for x, y in free[::7]:
        placed = place(shape, Placement(x * 1000, y * 1000, cutouts.angles[0]))
        assert ground.covers(to_polygon(placed))


@pytest.mark.parametrize("corner", CORNERS)
def test_the_first_piece_lies_in_the_corner(corner: Corner) -> None:
    """Within two steps of the corner asked for."""
    cutouts = Cutouts([rectangle(10, 10)], gap_mm=2, angles_mdeg=(0,), step_mm=1)
    fill = Fill(Site((rectangle(100, 60),), cutouts), corner, [0])

    assert fill.put(0)
    spot = fill.spots[0][1]
    assert abs(spot.x - (90 if corner.from_right else 0)) <= 2
    assert abs(spot.y - (50 if corner.from_top else 0)) <= 2


def test_a_full_board_takes_no_more() -> None:
    """Two squares of 40 mm on a board of 100 x 60 mm, and then no third."""
    cutouts = Cutouts([rectangle(40, 40)], gap_mm=2, angles_mdeg=(0,), step_mm=1)
    fill = Fill(Site((rectangle(100, 60),), cutouts), Corner(), [0])

    assert [fill.put(0) for _ in range(3)] == [True, True, False]


def test_a_round_shape_needs_one_angle_and_a_square_a_quarter_of_them() -> None:
    """Angles that make no difference are not tried."""
    angles = range(0, 360_000, 15_000)

    cutouts = Cutouts([circle(20), rectangle(20, 20)], gap_mm=2, angles_mdeg=angles, step_mm=1)

    assert [len(numbers) for numbers in cutouts.of_shape] == [1, 6]
