"""Circles made of straight steps measure as circles."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from salvage.geometry.arcs import FLATTENING_MM, arc_steps, round_ring


def area_of(ring: list[tuple[float, float]]) -> float:
    """Area by the shoelace formula."""
    pairs = zip(ring, ring[1:] + ring[:1], strict=True)
    return sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in pairs) / 2


@given(st.floats(0.5, 2000))
def test_a_circle_has_its_true_area_and_width(diameter_mm: float) -> None:
    """A disc sold as 75 mm measures 75 mm across and has the area pi d² / 4."""
    ring = round_ring(diameter_mm)
    xs, ys = [x for x, _ in ring], [y for _, y in ring]

    assert area_of(ring) == pytest.approx(math.pi * diameter_mm**2 / 4, rel=1e-9)
    assert max(xs) - min(xs) == pytest.approx(diameter_mm)
    assert max(ys) - min(ys) == pytest.approx(diameter_mm)


@given(st.floats(1, 2000))
def test_no_step_strays_further_than_the_tolerance(diameter_mm: float) -> None:
    """Corners and middles of the steps lie within 0.02 mm of the true circle."""
    ring = round_ring(diameter_mm)
    middles = [
        ((x1 + x2) / 2, (y1 + y2) / 2)
        for (x1, y1), (x2, y2) in zip(ring, ring[1:] + ring[:1], strict=True)
    ]
    strays = [abs(math.hypot(x, y) - diameter_mm / 2) for x, y in (*ring, *middles)]

    assert max(strays) <= FLATTENING_MM * 1.01


def test_steps_follow_the_height_of_the_arc() -> None:
    """Fewer steps for a small radius; the height r (1 - cos(step / 2)) is the rule."""
    steps = arc_steps(10, math.pi)

    assert 10 * (1 - math.cos(math.pi / steps / 2)) <= FLATTENING_MM
    assert 10 * (1 - math.cos(math.pi / (steps - 1) / 2)) > FLATTENING_MM


def test_an_arc_smaller_than_the_tolerance_keeps_a_few_steps() -> None:
    """A speck of a circle still has four sides."""
    assert arc_steps(0.01, 2 * math.pi) == 4
    assert arc_steps(0.01, 0.1) == 1
