"""Outlines are made, checked and carried to the grid and back without loss."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import GeometryCollection, LineString, MultiPolygon, Polygon, box

from salvage.errors import BadOutline, BadValue
from salvage.geometry.outline import (
    centre,
    check_region,
    circle,
    map_points,
    rectangle,
    region_of_mm,
    region_of_points,
    scale_to,
    settle,
    to_polygon,
    to_regions,
)
from salvage.records.region import Region

PAGE = ((0, 0), (20_000, 0), (20_000, 10_000), (0, 10_000))


@st.composite
def star_regions(draw: st.DrawFn) -> Region:
    """A region with corners at random distances all round, and perhaps a round hole."""
    radii = draw(st.lists(st.integers(3000, 40_000), min_size=3, max_size=24))
    angles = [2 * math.pi * index / len(radii) for index in range(len(radii))]
    outer = tuple(
        (round(r * math.cos(a)), round(r * math.sin(a))) for r, a in zip(radii, angles, strict=True)
    )
    # A circle of 1 mm about the middle stays clear of every side: the nearest is 1.5 mm off.
    hole = circle(1.0).outer[::-1] if draw(st.booleans()) else None
    return check_region(Region(outer, (hole,) if hole and len(radii) > 3 else ()))


@settings(deadline=None)
@given(star_regions())
def test_a_region_survives_the_trip_to_millimetres_and_back(region: Region) -> None:
    """The library's polygon holds exactly the same outline."""
    assert to_regions(to_polygon(region)) == (region,)


@settings(deadline=None)
@given(star_regions())
def test_checking_twice_changes_nothing(region: Region) -> None:
    """A tidy region is its own tidy form."""
    assert check_region(region) == region


def test_a_board_with_its_corners_typed_backwards_is_turned_round() -> None:
    """Outer rings run counter-clockwise, holes clockwise."""
    hole = ((1000, 1000), (3000, 1000), (3000, 3000), (1000, 3000))
    tidy = check_region(Region(PAGE[::-1], (hole,)))

    assert tidy.outer == PAGE
    assert tidy.holes == (((1000, 1000), (1000, 3000), (3000, 3000), (3000, 1000)),)


def test_a_micro_atx_board_has_its_published_area() -> None:
    """244 x 244 mm: microATX Motherboard Interface Specification 1.2, Table 3."""
    assert rectangle(244, 244).area_mm2 == 59_536.0


def test_a_card_with_round_corners_has_its_analytic_area() -> None:
    """ISO/IEC 7810 ID-1, 85.60 x 53.98 mm with corners of 3.18 mm (from memory)."""
    card = rectangle(85.60, 53.98, corner_mm=3.18)
    area = 85.60 * 53.98 - (4 - math.pi) * 3.18**2

    assert card.area_mm2 == pytest.approx(area, abs=0.02)
    assert card.size_mm == (85.60, 53.98)
    assert card.bounds_um[:2] == (0, 0)


def test_a_rectangle_may_be_round_at_both_ends() -> None:
    """A 30 x 10 mm tag with corners of 5 mm is a stadium: 200 mm² and a 10 mm circle."""
    assert rectangle(30, 10, corner_mm=5).area_mm2 == pytest.approx(200 + math.pi * 25, abs=0.02)


@pytest.mark.parametrize("diameter_mm", [3.0, 25.0, 75.0, 300.0])
def test_a_circle_has_the_area_of_a_circle(diameter_mm: float) -> None:
    """pi d² / 4 to within 0.05 per cent, and the diameter across."""
    disc = circle(diameter_mm)

    assert disc.area_mm2 == pytest.approx(math.pi * diameter_mm**2 / 4, rel=5e-4)
    assert disc.size_mm == (diameter_mm, diameter_mm)


@pytest.mark.parametrize("size", [0.0, -5.0, 2000.5, math.inf, math.nan])
def test_sizes_out_of_range_are_refused(size: float) -> None:
    """Nothing in the workshop is larger than two metres or smaller than nothing."""
    with pytest.raises(BadValue, match="out of range"):
        rectangle(size, 10)
    with pytest.raises(BadValue, match="out of range"):
        circle(size)


def test_corners_larger_than_half_a_side_are_refused() -> None:
    """A 20 x 10 mm rectangle takes corners up to 5 mm."""
    with pytest.raises(BadValue, match="from 0 to 5 mm"):
        rectangle(20, 10, corner_mm=5.1)
    with pytest.raises(BadValue, match="corner radius"):
        rectangle(20, 10, corner_mm=-1)


def test_typed_points_become_a_region() -> None:
    """A kite typed clockwise and closed by hand."""
    kite = region_of_points([(0, 0), (-10, 20), (0, 30), (10, 20), (0, 0)], field="--points")

    assert kite.area_mm2 == 300.0
    assert len(kite.outer) == 4


def test_a_crossing_is_reported_where_it_is() -> None:
    """The maker is told the place in millimetres."""
    with pytest.raises(BadOutline) as refusal:
        region_of_points([(0, 0), (10, 10), (10, 0), (0, 10)], field="--points")

    assert "near x 5 mm, y 5 mm" in str(refusal.value)
    assert str(refusal.value).startswith("--points: ")


@pytest.mark.parametrize("number", [math.nan, math.inf])
def test_a_point_that_is_no_number_is_refused(number: float) -> None:
    """A blank cell in a table is no coordinate."""
    with pytest.raises(BadOutline, match="is no point"):
        region_of_points([(0, 0), (number, 1), (1, 1)], field="")


def square_hole(x: int, y: int, size: int = 2000) -> tuple[tuple[int, int], ...]:
    """A square hole with its lower left corner at a place."""
    return ((x, y), (x, y + size), (x + size, y + size), (x + size, y))


@pytest.mark.parametrize(
    ("holes", "words"),
    [
        ((square_hole(30_000, 0),), "reaches outside"),
        ((square_hole(19_000, 4000),), "reaches outside"),
        ((square_hole(1000, 1000), square_hole(2000, 2000)), "two holes overlap near x "),
        ((square_hole(1000, 1000), square_hole(1500, 1500, 500)), "two holes overlap near x "),
        ((((0, 5000), (10_000, 10_000), (10_000, 5000)),), "cut the outline in two"),
        ((((1000, 1000), (2000, 2000), (2000, 1000), (1000, 2000)),), "hole 1 crosses"),
        ((((1000, 1000), (2000, 2000)),), "hole 1 has only 2"),
    ],
)
def test_holes_must_lie_inside_and_apart(
    holes: tuple[tuple[tuple[int, int], ...], ...], words: str
) -> None:
    """A mounting hole off the board, or two in one place, is a mistake of tracing."""
    with pytest.raises(BadOutline) as refusal:
        check_region(Region(PAGE, holes))

    assert words in str(refusal.value)


def test_a_hole_may_touch_the_edge_in_one_point() -> None:
    """Touching is not crossing."""
    hole = ((0, 5000), (3000, 6000), (3000, 4000))

    assert check_region(Region(PAGE, (hole,))).area_mm2 == 197.0


def test_parts_come_largest_first_and_only_ground() -> None:
    """Lines where two pieces touched are no regions; crumbs may be left out."""
    mixed = GeometryCollection(
        [box(0, 0, 1, 1), LineString([(0, 0), (9, 9)]), MultiPolygon([box(2, 2, 6, 6)])]
    )

    assert [region.area_mm2 for region in to_regions(mixed)] == [16.0, 1.0]
    assert [region.area_mm2 for region in to_regions(mixed, least_mm2=2)] == [16.0]


def test_a_neck_that_closes_on_the_grid_splits_the_region() -> None:
    """An hourglass with a waist of 0.2 µm becomes two valid triangles."""
    hourglass = Polygon([(0, 0), (5, 5 - 1e-4), (10, 0), (10, 10), (5, 5 + 1e-4), (0, 10)])
    regions = to_regions(hourglass)

    assert [region.area_mm2 for region in regions] == pytest.approx([25.0, 25.0], abs=0.01)
    assert all(to_polygon(region).is_valid for region in regions)


def test_a_part_smaller_than_the_grid_vanishes() -> None:
    """A sliver a ten-thousandth of a millimetre wide is nothing."""
    assert to_regions(box(0, 0, 50, 0.0001)) == ()


def test_a_bowtie_keeps_both_halves() -> None:
    """Mending a ring that crosses itself loses no ground: 2 x 25 mm²."""
    bowtie = Polygon([(0, 0), (10, 10), (10, 0), (0, 10)])

    assert sum(region.area_mm2 for region in to_regions(bowtie)) == pytest.approx(50)


def test_mending_makes_no_ground_outside_the_outline() -> None:
    """A hole half off the board takes its half away; the other half does not become board."""
    page, hole = box(0, 0, 10, 10), box(5, -1, 15, 11)

    assert to_regions(Polygon(page.exterior, [hole.exterior])) == (rectangle(5, 10),)


def test_a_hole_smaller_than_the_grid_vanishes() -> None:
    """A pinprick of 0.1 µm is no hole."""
    pricked = box(0, 0, 10, 10).difference(box(5, 5, 5.0001, 5.0001))

    assert to_regions(pricked) == (rectangle(10, 10),)


@settings(deadline=None)
@given(star_regions(), st.integers(-10_000, 10_000), st.integers(-10_000, 10_000))
def test_settling_and_centring_only_move(region: Region, x: int, y: int) -> None:
    """Area and size stay; the box starts at, or lies about, the origin."""
    moved = map_points(region, lambda point: (point[0] + x, point[1] + y))
    settled, centred = settle(moved), centre(moved)
    left, bottom, right, top = centred.bounds_um

    assert settled.bounds_um[:2] == (0, 0)
    assert 0 <= left + right <= 1
    assert 0 <= bottom + top <= 1
    assert settled.area_um2 == centred.area_um2 == region.area_um2
    assert settle(settled) == settled
    assert centre(centred) == centred


def test_scaling_to_a_width_keeps_the_proportions() -> None:
    """A 20 x 10 mm page made 50 mm wide is 25 mm high."""
    assert scale_to(Region(PAGE), width_mm=50).size_mm == (50.0, 25.0)
    assert scale_to(Region(PAGE), height_mm=5).size_mm == (10.0, 5.0)
    assert scale_to(Region(PAGE), width_mm=30, height_mm=40).size_mm == (30.0, 40.0)
    assert scale_to(Region(PAGE)) == Region(PAGE)


@settings(deadline=None)
@given(star_regions(), st.integers(2000, 500_000))
def test_scaling_hits_the_width_exactly(region: Region, width_um: int) -> None:
    """A shape asked to be 70.25 mm wide is 70.25 mm wide, not a micrometre less."""
    assert scale_to(region, width_mm=width_um / 1000).size_mm[0] == width_um / 1000


def test_scaling_to_an_odd_width_is_exact_about_the_origin() -> None:
    """6 mm about the origin made 2.001 mm: half micrometres on both sides do not add up to one."""
    kite = Region(((-3000, 0), (0, -5000), (3000, 0), (0, 5000)))

    assert scale_to(kite, width_mm=2.001).size_mm[0] == 2.001


def test_scaling_out_of_range_is_refused() -> None:
    """Nothing is 3 m wide, and nothing is 3 m high because it was to be 1.8 m wide."""
    with pytest.raises(BadValue, match="a height of 0 mm"):
        scale_to(Region(PAGE), height_mm=0)
    with pytest.raises(BadOutline, match="2000 mm each way"):
        scale_to(Region(PAGE), height_mm=1800)


def test_a_shape_scaled_to_nothing_is_refused() -> None:
    """A circle less than half a micrometre wide has no room for its corners."""
    with pytest.raises(BadOutline):
        scale_to(circle(50), width_mm=0.0004)


def test_computed_rings_are_checked() -> None:
    """A hole computed outside its ring is refused like a typed one."""
    with pytest.raises(BadOutline, match="reaches outside"):
        region_of_mm([(0, 0), (5, 0), (5, 5)], [[(9, 9), (8, 9), (8, 8)]])
