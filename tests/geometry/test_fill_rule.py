"""What is inside, by the two fill rules."""

from __future__ import annotations

import math
import random

import pytest

from salvage.errors import BadFile
from salvage.geometry.arcs import PointMm
from salvage.geometry.fill_rule import fill_rings

SQUARE: list[PointMm] = [(0, 0), (30, 0), (30, 30), (0, 30)]
INNER: list[PointMm] = [(10, 10), (20, 10), (20, 20), (10, 20)]


def pentagram(radius: float) -> list[PointMm]:
    """Five points of a star, each second one joined, as in the fill-rule figure of SVG 1.1."""
    angles = [math.pi / 2 + 4 * math.pi * index / 5 for index in range(5)]
    return [(radius * math.cos(angle), radius * math.sin(angle)) for angle in angles]


def pentagon_area(radius: float) -> float:
    """Regular pentagon with corners on a circle; textbook geometry."""
    return 2.5 * radius**2 * math.sin(2 * math.pi / 5)


def star_area(radius: float) -> float:
    """Ten triangles from the centre; the inner corners lie at the radius over the golden ratio²."""
    inner = radius / ((1 + math.sqrt(5)) / 2) ** 2
    return 5 * radius * inner * math.sin(math.pi / 5)


def test_a_star_drawn_in_one_stroke_is_whole_by_nonzero() -> None:
    """The middle of the star winds twice, which is not zero."""
    assert fill_rings([pentagram(20)], "nonzero").area == pytest.approx(star_area(20))


def test_a_star_drawn_in_one_stroke_is_hollow_by_evenodd() -> None:
    """The middle of the star is crossed twice, which is even: a pentagon is missing."""
    inner = 20 / ((1 + math.sqrt(5)) / 2) ** 2
    expected = star_area(20) - pentagon_area(inner)

    assert fill_rings([pentagram(20)], "evenodd").area == pytest.approx(expected)


@pytest.mark.parametrize(
    ("rings", "rule", "area_mm2"),
    [
        ([SQUARE, INNER], "evenodd", 800.0),
        ([SQUARE, INNER[::-1]], "evenodd", 800.0),
        ([SQUARE, INNER], "nonzero", 900.0),
        ([SQUARE, INNER[::-1]], "nonzero", 800.0),
        ([SQUARE[::-1], INNER], "nonzero", 800.0),
        ([SQUARE, INNER, [(13, 13), (17, 13), (17, 17), (13, 17)]], "evenodd", 816.0),
    ],
)
def test_a_ring_in_a_ring_is_a_hole_if_the_rule_says_so(
    rings: list[list[PointMm]], rule: str, area_mm2: float
) -> None:
    """Even-odd looks at crossings only, nonzero at the direction as well."""
    filled = fill_rings(rings, "evenodd" if rule == "evenodd" else "nonzero")

    assert filled.area == pytest.approx(area_mm2)


def test_lines_without_ground_fill_nothing() -> None:
    """A line drawn there and back encloses nothing, and no ring at all neither."""
    assert fill_rings([[(0, 0), (5, 5)]], "nonzero").is_empty
    assert fill_rings([], "evenodd").is_empty


def test_a_tangle_is_refused_before_it_costs_much() -> None:
    """A scribble of a thousand strokes over one another is no outline."""
    dice = random.Random(7)
    scribble = [(dice.random() * 100, dice.random() * 100) for _ in range(1000)]

    with pytest.raises(BadFile, match="crosses or covers itself more than 2000 times"):
        fill_rings([scribble], "nonzero")


def test_copies_on_top_of_one_another_are_refused_before_they_cost_much() -> None:
    """A thousand copies of one square are a mistake of the drawing program."""
    with pytest.raises(BadFile, match="covers itself"):
        fill_rings([SQUARE] * 1000, "nonzero")


def test_a_few_copies_are_counted_by_the_rule() -> None:
    """Drawn twice, a square is inside by nonzero and outside by even-odd."""
    assert fill_rings([SQUARE, SQUARE], "nonzero").area == pytest.approx(900)
    assert fill_rings([SQUARE, SQUARE], "evenodd").is_empty
