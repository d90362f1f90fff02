"""Plain shapes measure as geometry says."""

from __future__ import annotations

import math

import pytest

from salvage.errors import BadValue, NotFound
from salvage.geometry.outline import to_polygon
from salvage.geometry.shapes import BUILT_IN_SHAPES, HANGING_HOLE_MM, built_in_shape

HOLE_MM2 = math.pi * HANGING_HOLE_MM**2 / 4


def drop_area(width_mm: float, height_mm: float) -> float:
    """Two tangents from a point and the arc below them; textbook geometry."""
    radius, apex = width_mm / 2, height_mm - width_mm / 2
    angle = math.acos(radius / apex)
    return radius * math.sqrt(apex**2 - radius**2) + radius**2 * (math.pi - angle)


ANALYTIC = [
    ("circle", 40.0, 40.0, math.pi * 400),
    ("ring", 40.0, 40.0, math.pi * 300),
    ("rectangle", 40.0, 25.0, 1000.0),
    ("rounded-tag", 32.0, 50.0, 1600 - (4 - math.pi) * 16 - HOLE_MM2),
    ("teardrop", 30.0, 45.0, drop_area(30, 45)),
    ("hanging-teardrop", 30.0, 45.0, drop_area(30, 45) - HOLE_MM2),
    ("oval", 40.0, 25.0, math.pi * 250),
    ("half-moon", 50.0, 25.0, math.pi * 312.5),
]


@pytest.mark.parametrize(("name", "width_mm", "height_mm", "area_mm2"), ANALYTIC)
def test_a_shape_has_its_analytic_area_and_size(
    name: str, width_mm: float, height_mm: float, area_mm2: float
) -> None:
    """Area to within 0.2 per cent, size to the micrometre, middle on the origin."""
    shape = built_in_shape(name, width_mm=width_mm, height_mm=height_mm)
    left, bottom, right, top = shape.bounds_um

    assert shape.area_mm2 == pytest.approx(area_mm2, rel=2e-3)
    assert shape.size_mm == pytest.approx((width_mm, height_mm), abs=0.0011)
    assert abs(left + right) <= 1
    assert abs(bottom + top) <= 1
    assert to_polygon(shape).is_valid


def test_every_shape_is_checked_here() -> None:
    """A shape added to the list must be added to the analytic table above."""
    assert {row[0] for row in ANALYTIC} == set(BUILT_IN_SHAPES)


@pytest.mark.parametrize("name", BUILT_IN_SHAPES)
def test_a_shape_without_a_height_takes_its_own_proportion(name: str) -> None:
    """The maker may give a width only."""
    shape = built_in_shape(name, width_mm=40)

    assert shape.size_mm == pytest.approx((40, 40 * BUILT_IN_SHAPES[name].proportion), abs=0.0011)
    assert BUILT_IN_SHAPES[name].name == name


def test_names_are_taken_as_people_type_them() -> None:
    """Capitals, blanks and underscores do not matter."""
    assert built_in_shape(" Rounded_Tag ", width_mm=20) == built_in_shape(
        "rounded tag", width_mm=20
    )


@pytest.mark.parametrize("name", ["rounded-tag", "hanging-teardrop"])
def test_a_hanging_hole_keeps_its_wall(name: str) -> None:
    """At least 2 mm of board stay all round the hole, so that it does not break out."""
    shape = to_polygon(built_in_shape(name, width_mm=24))
    hole = shape.interiors[0]

    assert shape.exterior.distance(hole) >= 1.99
    assert hole.centroid.y > 0


def test_an_unknown_shape_is_answered_with_the_nearest() -> None:
    """Typing 'teardorp' offers 'teardrop' first."""
    with pytest.raises(NotFound) as refusal:
        built_in_shape("teardorp", width_mm=30)

    assert refusal.value.nearest[0] == "teardrop"


def test_a_name_like_no_other_is_answered_with_all() -> None:
    """Nothing is near 'zzz', so the whole list is shown."""
    with pytest.raises(NotFound) as refusal:
        built_in_shape("zzz", width_mm=30)

    assert refusal.value.nearest == tuple(sorted(BUILT_IN_SHAPES))


@pytest.mark.parametrize(
    ("name", "width_mm", "height_mm", "words"),
    [
        ("circle", 30.0, 40.0, "take an oval"),
        ("ring", 30.0, 29.0, "not round"),
        ("oval", 0.0, 10.0, "width of 0 mm"),
        ("oval", 10.0, 3000.0, "height of 3000 mm"),
        ("rounded-tag", 6.0, 20.0, "too small for its hanging hole"),
        ("hanging-teardrop", 6.0, 20.0, "at least 6.5 mm"),
        ("teardrop", 30.0, 30.0, "has no point"),
        ("teardrop", 30.0, 10.0, "higher than 31.5 mm"),
    ],
)
def test_a_size_that_does_not_work_is_refused(
    name: str, width_mm: float, height_mm: float, words: str
) -> None:
    """Each refusal names the size that would do."""
    with pytest.raises(BadValue) as refusal:
        built_in_shape(name, width_mm=width_mm, height_mm=height_mm)

    assert words in str(refusal.value)
