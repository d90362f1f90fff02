"""What a usable stretch of a board is good for."""

from __future__ import annotations

import pytest
import shapely

from salvage.geometry.fragment import fragment_facts
from salvage.geometry.outline import circle, rectangle, to_polygon
from salvage.records.region import Region

L_SHAPE = Region(
    ((0, 0), (100_000, 0), (100_000, 20_000), (30_000, 20_000), (30_000, 50_000), (0, 50_000))
)


def test_a_rectangle_is_its_own_largest_one() -> None:
    """To the micrometre, since the grid fills the box."""
    assert fragment_facts(rectangle(73, 31)).rectangle_mm == (0.0, 0.0, 73.0, 31.0)


def test_of_an_l_the_larger_arm_counts() -> None:
    """100 x 20 mm is more than 30 x 50 mm; its arms are 20 mm wide at the least."""
    facts = fragment_facts(L_SHAPE)
    left, bottom, right, top = facts.rectangle_mm

    assert right - left == pytest.approx(100, abs=1)
    assert top - bottom == pytest.approx(20, abs=1)
    assert facts.least_width_mm == pytest.approx(20, abs=0.1)


def test_a_circle_holds_a_square_and_never_more() -> None:
    """The square in a circle of 60 mm has sides of 60 / √2 mm (elementary geometry)."""
    region = circle(60)
    left, bottom, right, top = fragment_facts(region).rectangle_mm
    area = (right - left) * (top - bottom)

    assert area == pytest.approx(60**2 / 2, rel=0.03)
    assert to_polygon(region).covers(shapely.box(left, bottom, right, top))
