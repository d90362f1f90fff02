"""Outlines laid over one another are pulled apart, or the search says that it could not."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from salvage.geometry.poses import Pose, Poses
from salvage.geometry.untangle import OUTSIDE, Room, Spot, Tangle

Points = NDArray[np.float64]


def bar(width: float, height: float) -> Points:
    """A rectangle from its own place to the right and up."""
    return np.array([(0, 0), (width, 0), (width, height), (0, height)], dtype=float)


def tangle_of(width: int, height: int, bars: list[tuple[int, int]], seed: int = 0) -> Tangle:
    """Bars all in the lower left corner of a rectangle, each lying or standing."""
    outlines = [side for w, h in bars for side in (bar(w, h), bar(h, w))]
    poses = Poses([Pose(outline, n) for n, outline in enumerate(outlines)])
    sizes = [outline.max(axis=0).astype(int) for outline in outlines]
    choices = [(2 * n, 2 * n + 1) for n in range(len(bars))]

    def room(pose: int) -> Room:
        return Room(0, 0, height - int(sizes[pose][1]) + 1, width - int(sizes[pose][0]) + 1)

    tangle = Tangle(poses, room, choices, np.random.default_rng(seed))
    tangle.spots = [Spot(choice[0], 0, 0) for choice in choices]
    return tangle


def ground_of(tangle: Tangle) -> list[shapely.Polygon]:
    """Where all items lie."""
    return [
        shapely.Polygon(tangle.poses.poses[spot.pose].outline + np.array([spot.x, spot.y]))
        for spot in tangle.spots
        if spot
    ]


# Twenty items are enough for the sums to be kept pose by pose.
@pytest.mark.parametrize("count", [4, 10, 20])
def test_bars_with_room_are_pulled_apart(count: int) -> None:
    """In the end none overlaps and all lie in the room, measured by the library."""
    tangle = tangle_of(40, 5 * count, [(12, 6 + n % 3) for n in range(count)])

    assert tangle.separate(lambda: True, patience=100)
    placed = ground_of(tangle)
    assert shapely.union_all(placed).area == sum(polygon.area for polygon in placed)
    assert all(shapely.box(0, 0, 40, 5 * count).covers(polygon) for polygon in placed)


def test_four_bars_fill_a_square_exactly() -> None:
    """A pinwheel with a hole in its middle; no other way of laying them fits."""
    tangle = tangle_of(10, 10, [(6, 4)] * 4, seed=3)

    assert tangle.separate(lambda: True, patience=400)
    assert shapely.union_all(ground_of(tangle)).area == 96


def test_too_many_bars_are_given_up() -> None:
    """Five bars of 24 in a square of 100: the search ends by itself and says no."""
    assert not tangle_of(10, 10, [(6, 4)] * 5).separate(lambda: True, patience=15)


def test_the_search_stops_when_told() -> None:
    """Not one move is made once the time is up."""
    tangle = tangle_of(10, 10, [(6, 4)] * 4)

    assert not tangle.separate(lambda: False, patience=400)
    assert tangle.moves == 0


def test_kept_sums_are_the_sums_made_anew() -> None:
    """After a search, the depth at every place is the same either way."""
    kept = tangle_of(40, 60, [(12, 6)] * 18)
    kept.separate(lambda: True, patience=5)
    plain = tangle_of(40, 60, [(12, 6)] * 18)
    plain.spots = kept.kept()
    weights = [1.0 + n / 8 for n in range(18)]

    for pose in (0, 1):
        one, two = kept.depths(0, pose, weights), plain.depths(0, pose, weights)
        assert one is not None
        assert two is not None
        assert one[:2] == two[:2]
        np.testing.assert_allclose(one[2], two[2], atol=1e-4)


def test_a_near_move_stays_near_and_does_not_turn() -> None:
    """Two bars that overlap by a little part within two steps."""
    tangle = tangle_of(30, 10, [(6, 4), (6, 4)])
    tangle.spots[1] = Spot(2, 5, 0)

    assert tangle.separate(lambda: True, patience=20, reach=2)
    assert [spot.pose for spot in tangle.kept() if spot] == [0, 2]
    assert all(abs(spot.x - x) <= 4 for spot, x in zip(tangle.spots, (0, 5), strict=True) if spot)


def test_a_blocked_place_is_never_taken() -> None:
    """A bar goes beside what is blocked."""
    blocked = np.zeros((7, 25), dtype=bool)
    blocked[:, :20] = True
    poses = Poses([Pose(bar(6, 4), 0)])
    tangle = Tangle(poses, lambda _: Room(0, 0, 7, 25, blocked), [(0,)], np.random.default_rng(0))

    best = tangle.best_spot(0, (0,))

    assert best is not None
    assert best[0] == 0
    assert best[1].x >= 20
    blocked[:] = True
    worse = tangle.best_spot(0, (0,))
    assert worse is not None
    assert worse[0] >= OUTSIDE / 2
    assert not Room(0, 0, 7, 25, blocked).fits()
