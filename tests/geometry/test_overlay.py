"""Overlays keep ground and nothing else, and a growth never falls short."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from shapely import GeometryCollection, LineString, MultiPolygon, Point, Polygon, box

from salvage.geometry.overlay import (
    COARSE_EXCESS_MM,
    GROWTH_EXCESS_MM,
    grow,
    intersect,
    open_by,
    polygon_parts,
    polygons,
    subtract,
    unite,
)


def boundary_distances(grown: MultiPolygon, source: Polygon) -> NDArray[np.float64]:
    """Distance from the source of points every 0.05 mm along the edge of what it grew to."""
    points = shapely.get_coordinates(shapely.segmentize(grown.boundary, 0.05))
    return np.asarray(shapely.distance(source, shapely.points(points)))


def test_boards_that_share_only_an_edge_have_no_ground_in_common() -> None:
    """Two pieces laid edge to edge overlap nowhere, not even as a line."""
    common = intersect(box(0, 0, 10, 10), box(10, 0, 20, 10))

    assert common.is_empty
    assert common.geom_type == "MultiPolygon"


def test_points_and_lines_are_left_out() -> None:
    """What is left of an overlay besides ground is dropped."""
    mixed = GeometryCollection(
        [Point(0, 0), LineString([(0, 0), (1, 1)]), MultiPolygon([box(0, 0, 2, 2)]), Polygon()]
    )

    assert [part.area for part in polygon_parts(mixed)] == [4.0]
    assert polygons(mixed).area == 4.0


def test_union_and_difference_add_up() -> None:
    """Two overlapping squares of 100 with 25 in common cover 175."""
    one, other = box(0, 0, 10, 10), box(5, 5, 15, 15)

    assert unite([one, other]).area == pytest.approx(175)
    assert subtract(one, other).area == pytest.approx(75)
    assert unite([]).is_empty


def test_growing_by_nothing_changes_nothing() -> None:
    """Hand shears take no kerf."""
    assert grow(box(0, 0, 4, 5), 0).equals(box(0, 0, 4, 5))


@settings(max_examples=40, deadline=None)
@given(
    radii=st.lists(st.floats(4, 20), min_size=5, max_size=40),
    distance_mm=st.sampled_from([0.2, 1.0, 2.0, 6.0]),
    excess_mm=st.sampled_from([GROWTH_EXCESS_MM, COARSE_EXCESS_MM]),
)
def test_a_growth_never_falls_short(
    radii: list[float], distance_mm: float, excess_mm: float
) -> None:
    """The kerf kept clear is as wide as the tool all the way round, whatever the corners."""
    angles = [2 * math.pi * index / len(radii) for index in range(len(radii))]
    source = Polygon(
        [(r * math.cos(a), r * math.sin(a)) for r, a in zip(radii, angles, strict=True)]
    )

    distances = boundary_distances(grow(source, distance_mm, excess_mm=excess_mm), source)

    assert distances.min() >= distance_mm - 1e-9
    # The library fills hollows shallower than a hundredth of the distance before it grows.
    assert distances.max() <= distance_mm * 1.011 + excess_mm


def test_a_disc_sweeps_a_square_but_for_its_corners() -> None:
    """A disc of 10 mm leaves (4 - pi) x 25 mm² of a square's corners; textbook geometry."""
    swept = open_by(box(0, 0, 100, 100), 10)

    assert swept.area == pytest.approx(10_000 - (4 - math.pi) * 25, abs=0.3)


def test_a_strip_exactly_as_wide_as_the_disc_stays() -> None:
    """An offcut 12 mm wide is still good for a 12 mm shape."""
    assert open_by(box(0, 0, 100, 12), 12).area > 1100


def test_a_strip_narrower_than_the_disc_falls_away() -> None:
    """An offcut 11.9 mm wide is not good for a 12 mm shape."""
    assert open_by(box(0, 0, 100, 11.9), 12).is_empty


def test_without_a_smallest_shape_everything_stays() -> None:
    """A workshop that uses every crumb loses nothing to narrow necks."""
    assert open_by(box(0, 0, 100, 0.5), 0).area == 50
