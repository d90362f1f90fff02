"""The best spots come first, and each of them holds."""

from __future__ import annotations

import numpy as np
import pytest

from salvage.geometry.ground import ground_of_regions
from salvage.geometry.outline import circle, rectangle, to_polygon
from salvage.geometry.placing import Placement, place
from salvage.geometry.preference import Preference, Rich, Snug, Whole
from salvage.geometry.spots import find_spots
from salvage.records.region import Region
from tests.benchmarks.boards import KERF_MM, SHAPES, make_board, tern
from tests.benchmarks.correlation import is_clear

BOARD = rectangle(100, 60)
RICHNESS = np.zeros((60, 100))
RICHNESS[30:60, 60:100] = 1.0


@pytest.mark.parametrize("prefer", [None, Snug(), Whole(KERF_MM), Rich(RICHNESS, 0, 0, 1.0)])
@pytest.mark.parametrize("name", ["two-lobed 25", "kite 45", "rounded tag 28"])
def test_every_spot_is_clear_and_they_are_ranked(name: str, prefer: Preference | None) -> None:
    """On a used board, by any preference: at most as many as asked for, best first, well apart."""
    board = make_board(6)
    spots = find_spots(SHAPES[name], board.ground(), clearance_mm=0.5, most=5, prefer=prefer)
    scores = [spot.score for spot in spots]

    assert 1 <= len(spots) <= 5
    assert scores == sorted(scores, reverse=True)
    assert all(is_clear(spot, board, kerf_mm=KERF_MM, clearance_mm=0.5) for spot in spots)


def test_a_snug_tile_lies_in_a_corner() -> None:
    """A tile of 20 mm on an empty board: within a millimetre of two edges."""
    (spot,) = find_spots(rectangle(20, 20), [BOARD], most=1)
    left, bottom, right, top = to_polygon(spot.region).bounds

    assert min(left, 100 - right) < 1.5
    assert min(bottom, 60 - top) < 1.5


def test_a_piece_leaves_the_largest_circle_it_can() -> None:
    """A narrow strip at one end of a board leaves a circle of 30 mm; in the middle it would not."""
    (spot,) = find_spots(rectangle(15, 58), [BOARD], most=1, prefer=Whole(2.0))
    left, _, right, _ = to_polygon(spot.region).bounds

    assert spot.score == pytest.approx(30, abs=0.3)
    assert left < 24 or right > 76


def test_the_richest_ground_is_chosen() -> None:
    """Only the upper right quarter of the board is rich."""
    (spot,) = find_spots(circle(16), [BOARD], most=1, prefer=Rich(RICHNESS, 0, 0, 1.0))
    middle = to_polygon(spot.region).centroid

    assert spot.score == pytest.approx(1.0)
    assert (middle.x > 66, middle.y > 36) == (True, True)


def test_a_fit_between_the_steps_is_still_found() -> None:
    """A slot at 7.3 degrees is no multiple of 15, so one spot comes from the full search."""
    laid = to_polygon(place(tern(90), Placement(50_000, 40_000, 7_300)))
    slot = Region(
        tuple((round(x * 1000), round(y * 1000)) for x, y in laid.buffer(0.6).exterior.coords[:-1])
    )
    spots = find_spots(tern(90), [slot])

    assert len(spots) == 1
    assert 6_000 < spots[0].placement.angle_mdeg < 9_000
    assert find_spots(tern(90), [slot], angles_mdeg=[0, 15_000]) == ()


def test_no_ground_or_no_angle_gives_no_spot() -> None:
    """Nothing to lie on, or no way to lie."""
    assert find_spots(circle(5), []) == ()
    assert find_spots(circle(5), [BOARD], angles_mdeg=[]) == ()
    assert find_spots(circle(80), ground_of_regions([BOARD])) == ()
