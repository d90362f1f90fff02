"""Angles that only repeat another are not tried twice."""

from __future__ import annotations

import pytest

from salvage.geometry.outline import circle, rectangle, region_of_mm
from salvage.geometry.placing import Placement, place
from salvage.geometry.shapes import built_in_shape
from salvage.geometry.symmetry import Symmetry, symmetry_of
from salvage.records.region import Region
from tests.benchmarks.boards import star, tern, two_lobed

SQUARE_HOLE = ((10_000, 10_000), (10_000, 12_000), (12_000, 12_000), (12_000, 10_000))


@pytest.mark.parametrize(
    ("shape", "order", "mirrored"),
    [
        (rectangle(48, 48), 4, True),
        (rectangle(40, 25), 2, True),
        (star(70), 5, True),
        (two_lobed(60), 1, True),
        (tern(90), 1, False),
        (built_in_shape("oval", width_mm=55, height_mm=35), 2, True),
        (built_in_shape("rounded-tag", width_mm=28), 1, True),
        (region_of_mm([(0, 0), (30, 0), (40, 20), (10, 20)]), 2, False),
        (Region(rectangle(48, 48).outer, (SQUARE_HOLE,)), 1, True),
    ],
)
def test_a_shape_falls_onto_itself(shape: Region, order: int, mirrored: bool) -> None:
    """A square four times in a turn, a tern only once and never turned over."""
    assert symmetry_of(shape) == Symmetry(order, mirrored, False)


@pytest.mark.parametrize("angle_mdeg", [0, 17_345, 90_000, 211_111])
def test_symmetry_does_not_depend_on_how_the_shape_lies(angle_mdeg: int) -> None:
    """A star drawn askew and off the origin has still five points."""
    shape = place(star(50), Placement(12_345, -6_789, angle_mdeg))

    assert symmetry_of(shape) == Symmetry(5, True, False)


def test_a_disc_is_round_and_a_ring_is_not_taken_for_one() -> None:
    """A ring may lie where its hole has an obstacle, a disc may not."""
    assert symmetry_of(circle(30)).is_round
    assert not symmetry_of(built_in_shape("ring", width_mm=40)).is_round
