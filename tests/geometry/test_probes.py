"""The discs of a shape lie in it and reach its whole edge."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from salvage.geometry.outline import rectangle, to_polygon
from salvage.geometry.probes import least_width, probe_shape
from salvage.records.region import Region
from tests.benchmarks.boards import SHAPES


@pytest.mark.parametrize("name", SHAPES)
def test_every_disc_lies_in_the_shape(name: str) -> None:
    """A disc that stuck out would prove that a shape does not fit where it does."""
    probes = probe_shape(SHAPES[name])
    points = shapely.points(probes.xs + probes.centre_mm[0], probes.ys + probes.centre_mm[1])

    assert (shapely.distance(probes.polygon, points) <= 1e-9).all()
    assert (shapely.distance(probes.polygon.boundary, points) >= probes.radii).all()


@pytest.mark.parametrize("name", ["kite 45", "two-lobed 60", "tide bell 60", "lighthouse 40"])
def test_the_discs_reach_the_edge(name: str) -> None:
    """No stretch of the edge is farther than a quarter millimetre from every disc."""
    probes = probe_shape(SHAPES[name])
    edge = shapely.get_coordinates(shapely.segmentize(probes.polygon, 0.1)) - probes.centre_mm
    gaps = np.hypot(edge[:, :1] - probes.xs, edge[:, 1:] - probes.ys) - probes.radii

    assert float(gaps.min(axis=1).max()) < 0.25


def test_the_enclosing_circle_holds_the_shape() -> None:
    """A rectangle of 30 x 40 mm has a circle of 25 mm radius round it."""
    probes = probe_shape(rectangle(30, 40))

    assert probes.enclosing_mm == pytest.approx(25)
    assert probes.enclosing_at_mm == pytest.approx((15, 20))
    assert probes.longest_mm == pytest.approx(50)
    assert probes.least_width_mm == pytest.approx(30)
    assert probes.inscribed_mm == pytest.approx(15, abs=0.01)


def test_a_shape_with_a_hole_has_no_disc_over_it() -> None:
    """The hanging hole of a tag is not part of the tag."""
    tag = SHAPES["rounded tag 28"]
    probes = probe_shape(tag)
    hole = shapely.Polygon([(x / 1000, y / 1000) for x, y in tag.holes[0]])
    points = shapely.points(probes.xs + probes.centre_mm[0], probes.ys + probes.centre_mm[1])

    assert (shapely.distance(hole, points) >= probes.radii - 1e-6).all()


def test_the_least_width_of_a_triangle_is_its_least_height() -> None:
    """Sides 30, 40, 50: the height on the longest is 24 (area 600 = 50 x 24 / 2)."""
    triangle = Region(((0, 0), (30_000, 0), (0, 40_000)))

    assert least_width(to_polygon(triangle)) == pytest.approx(24)
