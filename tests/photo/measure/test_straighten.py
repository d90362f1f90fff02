"""Straight edges become lines; what is not straight stays as it was measured."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from salvage.photo.measure.holes import fit_circle
from salvage.photo.measure.side import falling
from salvage.photo.measure.straighten import straighten


def noisy(
    ring: list[tuple[float, float]], sd_mm: float = 0.03
) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Points each 0.2 mm along a ring, with noise."""
    line = shapely.LinearRing(ring)
    marks = np.arange(0, line.length, 0.2)
    points = shapely.get_coordinates(shapely.line_interpolate_point(line, marks))
    return points + np.random.default_rng(3).normal(0, sd_mm, points.shape)


def test_a_turned_rectangle_gets_four_corners() -> None:
    """Noise of 0.03 mm leaves corners within 0.02 mm, and the turn to 0.02 degrees."""
    turn = math.radians(11)
    c, s = math.cos(turn), math.sin(turn)
    ring = [(c * x - s * y, s * x + c * y) for x, y in ((0, 0), (90, 0), (90, 40), (0, 40))]
    found = straighten(noisy(ring), tolerance_mm=0.05)
    nearest = [min(math.dist(corner, point) for point in found.ring) for corner in ring]

    assert len(found.ring) == 4
    assert max(nearest) < 0.02
    assert math.degrees(found.angle) == pytest.approx(11, abs=0.02)
    assert found.straight_share > 0.95


def test_an_edge_that_is_not_square_stays_so() -> None:
    """A board sheared at 3 degrees is not made square."""
    ring = [(0.0, 0.0), (90.0, 0.0), (90.0, 44.7), (0.0, 40.0)]
    found = straighten(noisy(ring), tolerance_mm=0.05)

    assert max(y for _, y in found.ring) == pytest.approx(44.7, abs=0.05)
    assert len(found.ring) == 4


def test_a_rounded_corner_is_not_sharpened() -> None:
    """A corner of radius 4 mm stays round to 0.1 mm."""
    shape = shapely.box(0, 0, 60, 40).buffer(-4).buffer(4, quad_segs=32)
    ring = [(float(p[0]), float(p[1])) for p in shape.exterior.coords[:-1]]
    found = straighten(noisy(ring), tolerance_mm=0.05)

    assert shapely.hausdorff_distance(shapely.LinearRing(found.ring), shape.exterior) < 0.15
    assert shapely.Polygon(found.ring).area == pytest.approx(shape.area, rel=0.001)


def test_a_small_notch_is_kept() -> None:
    """A notch of 3 x 1 mm is kept; it may be what tells two boards apart."""
    ring: list[tuple[float, float]] = [(0.0, 0.0), (60.0, 0.0), (60.0, 40.0), (32.0, 40.0)]
    ring += [(32.0, 39.0), (29.0, 39.0), (29.0, 40.0), (0.0, 40.0)]
    found = straighten(noisy(ring), tolerance_mm=0.05)

    assert shapely.Polygon(found.ring).area == pytest.approx(60 * 40 - 3, abs=0.8)


def test_a_speck_on_a_straight_edge_does_not_break_it() -> None:
    """A letter printed across the edge pulls a few points in; the edge stays one line."""
    points = noisy([(0.0, 0.0), (60.0, 0.0), (60.0, 40.0), (0.0, 40.0)])
    on_edge = (abs(points[:, 1]) < 0.2) & (abs(points[:, 0] - 20) < 0.25)
    points[on_edge, 1] += 0.4
    found = straighten(points, tolerance_mm=0.05)

    assert on_edge.sum() >= 2
    assert len(found.ring) == 4


def test_a_circle_is_fitted_through_dirt() -> None:
    """A burr on a twelfth of the rim moves a hole's centre by less than 0.03 mm."""
    angles = np.linspace(0, 2 * np.pi, 120, endpoint=False)
    reach = np.where(angles < np.pi / 6, 1.4, 1.6)
    points = np.stack([5 + reach * np.cos(angles), 7 + reach * np.sin(angles)], axis=1)
    centre, radius, off_round = fit_circle(points)

    assert centre == pytest.approx((5, 7), abs=0.03)
    assert radius == pytest.approx(1.6, abs=0.02)
    assert 0.05 < off_round < 0.25


def test_the_ideal_edge_is_the_normal_law() -> None:
    """The upper tail of the normal law, as Python's own erfc gives it."""
    places = np.linspace(-4, 4, 41)
    wanted = [0.5 * math.erfc(place / math.sqrt(2)) for place in places]

    assert falling(places) == pytest.approx(wanted, abs=1e-7)
