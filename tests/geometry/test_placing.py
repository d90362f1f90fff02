"""A shape put down and taken up again is the same shape."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity

from salvage.errors import BadOutline
from salvage.geometry.outline import rectangle, to_polygon
from salvage.geometry.placing import Placement, place
from salvage.geometry.shapes import built_in_shape
from salvage.records.region import Region

SHAPES = [
    built_in_shape("teardrop", width_mm=30),
    built_in_shape("rounded-tag", width_mm=20),
    built_in_shape("half-moon", width_mm=50),
    rectangle(40, 25),
]

PLACEMENTS = st.builds(
    Placement,
    st.integers(-500_000, 500_000),
    st.integers(-500_000, 500_000),
    st.integers(-720_000, 720_000),
    st.booleans(),
)


def undo(placement: Placement) -> Placement:
    """The placement that takes a shape back to where it came from."""
    angle = placement.angle_mdeg if placement.mirrored else -placement.angle_mdeg
    x = -placement.x_um if not placement.mirrored else placement.x_um
    turn = math.radians(angle / 1000)
    return Placement(
        round(x * math.cos(turn) + placement.y_um * math.sin(turn)),
        round(x * math.sin(turn) - placement.y_um * math.cos(turn)),
        angle,
        placement.mirrored,
    )


@settings(deadline=None)
@given(st.sampled_from(SHAPES), PLACEMENTS)
def test_a_placement_can_be_undone(shape: Region, placement: Placement) -> None:
    """Back where it came from, every corner is within three micrometres."""
    back = place(place(shape, placement), undo(placement))

    assert to_polygon(back).hausdorff_distance(to_polygon(shape)) <= 0.003


@settings(deadline=None)
@given(st.sampled_from(SHAPES), PLACEMENTS)
def test_placing_keeps_the_area(shape: Region, placement: Placement) -> None:
    """Rounding to the grid changes no more than a micrometre along the edge."""
    placed = place(shape, placement)
    edge_mm = to_polygon(shape).length

    assert abs(placed.area_mm2 - shape.area_mm2) <= edge_mm * 0.001
    assert to_polygon(placed).is_valid
    assert len(placed.holes) == len(shape.holes)


@settings(deadline=None)
@given(st.sampled_from(SHAPES), PLACEMENTS)
def test_placing_agrees_with_the_geometry_library(shape: Region, placement: Placement) -> None:
    """Mirror, rotate, move, by the library's own transforms."""
    polygon = to_polygon(shape)
    if placement.mirrored:
        polygon = affinity.scale(polygon, -1, 1, origin=(0, 0))
    polygon = affinity.rotate(polygon, placement.angle_mdeg / 1000, origin=(0, 0))
    polygon = affinity.translate(polygon, placement.x_um / 1000, placement.y_um / 1000)

    assert to_polygon(place(shape, placement)).hausdorff_distance(polygon) <= 0.001


@pytest.mark.parametrize(
    ("angle_mdeg", "bounds_um"),
    [
        (0, (0, 0, 40_000, 25_000)),
        (90_000, (-25_000, 0, 0, 40_000)),
        (180_000, (-40_000, -25_000, 0, 0)),
        (-90_000, (0, -40_000, 25_000, 0)),
        (450_000, (-25_000, 0, 0, 40_000)),
    ],
)
def test_quarter_turns_are_exact(angle_mdeg: int, bounds_um: tuple[int, int, int, int]) -> None:
    """A board turned by a right angle keeps whole micrometres; rotation is counter-clockwise."""
    placed = place(rectangle(40, 25), Placement(0, 0, angle_mdeg))

    assert placed.bounds_um == bounds_um
    assert placed.area_mm2 == 1000.0


def test_turning_over_comes_before_rotating() -> None:
    """x becomes -x, then a quarter turn: what lay to the right points down."""
    placed = place(rectangle(40, 25), Placement(0, 0, 90_000, mirrored=True))

    assert placed.bounds_um == (-25_000, -40_000, 0, 0)


def test_a_shape_that_vanishes_on_the_grid_is_refused() -> None:
    """A triangle one micrometre high, turned by 45 degrees, is less than a grid cell."""
    with pytest.raises(BadOutline, match="too small to place"):
        place(Region(((0, 0), (2, 0), (1, 1))), Placement(0, 0, 45_000))
