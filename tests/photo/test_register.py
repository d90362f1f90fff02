"""Front and back of a board come to lie in one frame, or a person is asked."""

from __future__ import annotations

import math
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point, Polygon, box
from shapely.affinity import rotate, scale, translate
from shapely.geometry.polygon import orient

from salvage.errors import Refused
from salvage.photo.register import Registration, register_back
from salvage.records.region import Region
from tests.benchmarks.photo_layout import make_layout

BOARD = box(0, 0, 100, 60)


def region(polygon: Polygon) -> Region:
    """A polygon as a record, counter-clockwise, on the micrometre grid."""
    turned = orient(polygon)
    outer, *holes = (
        tuple((round(1000 * x), round(1000 * y)) for x, y in list(ring.coords)[:-1])
        for ring in (turned.exterior, *turned.interiors)
    )
    return Region(outer, tuple(holes))


def with_holes(polygon: Polygon, *places: tuple[float, float]) -> Polygon:
    """A board with holes of 3 mm."""
    for x, y in places:
        polygon = Polygon(polygon.exterior, [*polygon.interiors, Point(x, y).buffer(1.5).exterior])
    return polygon


def turned_over(polygon: Polygon, *, turn_deg: float = 0.0, size: float = 1.0) -> Polygon:
    """What is seen of it from behind, lying somewhere else."""
    mirrored = scale(polygon, -size, size, origin=(0, 0))
    return translate(rotate(mirrored, turn_deg, origin=(0, 0)), 31.0, -12.0)


def farthest_off(found: Registration, polygon: Polygon, *, turn_deg: float, size: float) -> float:
    """How far corners of the front miss themselves after the way over the back, in mm."""
    seen = turned_over(polygon, turn_deg=turn_deg, size=size)
    pairs = zip(seen_in_order(polygon, turn_deg, size), polygon.exterior.coords, strict=True)
    assert seen.is_valid
    return max(math.dist(found.places[0].to_front(*there), here) for there, here in pairs)


def seen_in_order(polygon: Polygon, turn_deg: float, size: float) -> list[tuple[float, float]]:
    """Corners of the front as the back shows them, in the front's order."""
    turn = math.radians(turn_deg)
    cos, sin = size * math.cos(turn), size * math.sin(turn)
    return [
        (-cos * x - sin * y + 31.0, -sin * x + cos * y - 12.0) for x, y in polygon.exterior.coords
    ]


@settings(max_examples=15)
@given(
    seed=st.integers(0, 10_000),
    turn_deg=st.floats(0, 360),
    size=st.floats(0.992, 1.008),
)
def test_both_sides_come_to_lie_on_one_another(seed: int, turn_deg: float, size: float) -> None:
    """However the board is turned over, and a little too large or small, one place fits exactly."""
    front = with_holes(make_layout(seed, shape="ell").polygon(), (8.0, 9.0))
    back = turned_over(front, turn_deg=turn_deg, size=size)

    found = register_back(region(front), region(back))

    assert found.is_certain
    assert found.places[0].residual_mm < 0.01
    assert found.places[0].scale == pytest.approx(1 / size, abs=2e-4)
    assert farthest_off(found, front, turn_deg=turn_deg, size=size) < 0.03


def test_noise_of_a_measurement_moves_little() -> None:
    """With edges 0.08 mm off everywhere, places on both sides agree within 0.15 mm."""
    dice = random.Random(5)
    for seed in range(6):
        front = make_layout(seed, shape="notched").polygon()
        rough = front.segmentize(1.0)
        noisy = Polygon(
            [(x + dice.gauss(0, 0.08), y + dice.gauss(0, 0.08)) for x, y in rough.exterior.coords],
            [ring.coords for ring in rough.interiors],
        ).buffer(0)

        found = register_back(region(front), region(turned_over(noisy, turn_deg=100)))

        assert farthest_off(found, front, turn_deg=100, size=1) < 0.15


def test_half_a_turn_that_nothing_tells_is_asked() -> None:
    """A plain rectangle has two places; the tool shows both instead of guessing."""
    found = register_back(region(BOARD), region(turned_over(BOARD)))

    turns = sorted(place.turn_deg % 360 for place in found.places)

    assert not found.is_certain
    assert len(turns) == 2
    assert turns[1] - turns[0] == pytest.approx(180, abs=0.1)


def test_one_odd_hole_is_too_little_to_be_sure() -> None:
    """Five holes of six fit either way round, so a person is asked."""
    corners = [(5, 5), (95, 5), (5, 55), (95, 55)]
    front = with_holes(BOARD, *corners, (40.0, 30.0))

    found = register_back(region(front), region(turned_over(front, turn_deg=8)))

    assert not found.is_certain
    assert found.places[0].matched_holes == 5
    assert found.places[1].matched_holes == 4


def test_holes_tell_half_a_turn_apart() -> None:
    """Two holes that fit one way round only settle it."""
    corners = [(5, 5), (95, 5), (5, 55), (95, 55)]
    front = with_holes(BOARD, *corners, (40.0, 30.0), (22.0, 41.0))

    found = register_back(region(front), region(turned_over(front, turn_deg=188)))

    assert found.is_certain
    assert found.places[0].matched_holes == 6
    assert farthest_off(found, front, turn_deg=188, size=1) < 0.02


def test_a_hole_that_one_photo_missed_does_no_harm() -> None:
    """A hole filled with solder is seen from one side only."""
    places = [(5, 5), (95, 5), (5, 55), (60.0, 30.0), (22.0, 41.0)]
    front, back = with_holes(BOARD, *places), with_holes(BOARD, *places[:-1])

    found = register_back(region(front), region(turned_over(back, turn_deg=77)))

    assert found.is_certain
    assert (found.places[0].matched_holes, found.places[0].holes) == (4, 4)
    assert farthest_off(found, front, turn_deg=77, size=1) < 0.02


@pytest.mark.parametrize(
    "other",
    [box(0, 0, 103, 60), box(0, 0, 100, 64), BOARD.difference(box(60, 40, 101, 61))],
)
def test_the_back_of_another_board_is_refused(other: Polygon) -> None:
    """Two boards that look alike in a heap are not made one."""
    with pytest.raises(Refused, match="not sides of one board"):
        register_back(region(BOARD), region(turned_over(other, turn_deg=3)))


def test_the_same_outline_with_other_holes_is_refused() -> None:
    """Two revisions of one card have the same edge, but their holes sit elsewhere."""
    front = with_holes(BOARD, (5, 5), (95, 5), (5, 55), (30, 30))
    other = with_holes(BOARD, (9, 9), (80, 22), (50, 44), (62, 30))

    with pytest.raises(Refused, match="0 of 4 holes"):
        register_back(region(front), region(turned_over(other)))


def test_a_mirrored_front_is_not_taken_for_the_back() -> None:
    """A photo of the front given twice is found out where the board is not symmetric."""
    front = make_layout(7, shape="ell").polygon()

    with pytest.raises(Refused, match="not sides of one board"):
        register_back(region(front), region(front))


def test_two_holes_that_both_miss_are_no_back() -> None:
    """A front photographed again, as a back, has its holes on the wrong side: none agrees."""
    board = with_holes(Polygon([(0, 0), (64, 0), (64, 110), (0, 110)]), (9, 20), (14, 80))

    with pytest.raises(Refused, match="0 of 2 holes"):
        register_back(region(board), region(board))
