"""Curves become steps, lines become rings."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
import svgelements

from salvage.errors import BadFile
from salvage.geometry.arcs import PointMm
from salvage.geometry.svg_paths import count_points, rings_of_path


def stay(x: float, y: float) -> PointMm:
    """Pixels taken as millimetres."""
    return x, y


def rings(text: str, *, tolerance: float = 0.01, most_points: int = 20_000) -> list[list[PointMm]]:
    """Rings of a path in path language."""
    path = svgelements.Path(text)
    return rings_of_path(path, place=stay, tolerance=tolerance, most_points=most_points)


def test_each_closed_line_is_a_ring() -> None:
    """After closing, the next line starts where the last one started, with or without a move."""
    found = rings("M0 0 L10 0 L10 10 z l5 5 l5 0 z M50 50 M60 60 h5 v5 z")

    assert [len(ring) for ring in found] == [3, 3, 3]
    assert found[1] == [(5.0, 5.0), (10.0, 5.0), (0.0, 0.0)]


def test_a_line_that_ends_where_it_started_is_closed() -> None:
    """Some programs repeat the first point instead of closing; rounding does not matter."""
    assert len(rings("M0 0 L10 0 L10 10 L0.005 0")) == 1


@pytest.mark.parametrize("text", ["M0 0 L10 0 L10 10", "M0 0 L10 0 L10 10 L0 1 M0 0 h5 v5 z"])
def test_an_open_line_is_refused(text: str) -> None:
    """What has no inside cannot be cut out."""
    with pytest.raises(BadFile, match="open line"):
        rings(text)


@pytest.mark.parametrize(
    ("text", "curve"),
    [
        ("M0 0 Q50 80 100 0 z", svgelements.QuadraticBezier(0, 50 + 80j, 100)),
        ("M0 0 C10 90 60 -70 100 0 z", svgelements.CubicBezier(0, 10 + 90j, 60 - 70j, 100)),
        ("M0 0 A60 40 30 0 1 100 0 z", svgelements.Path("M0 0 A60 40 30 0 1 100 0")[1]),
    ],
)
def test_no_step_strays_further_from_its_curve_than_asked(
    text: str, curve: svgelements.PathSegment
) -> None:
    """Half way along each step, the curve is within a hundredth of a millimetre."""
    points = [(0.0, 0.0), *rings(text, tolerance=0.01)[0][:-1]]
    count = len(points) - 1
    strays = []
    for index, ((x1, y1), (x2, y2)) in enumerate(pairwise(points)):
        on_curve = curve.point((index + 0.5) / count)
        across = abs((x2 - x1) * (on_curve.y - y1) - (y2 - y1) * (on_curve.x - x1))
        strays.append(across / math.hypot(x2 - x1, y2 - y1))

    assert max(strays) <= 0.01
    assert max(strays) > 0.002  # and it does not waste points


def test_too_many_points_are_refused() -> None:
    """Points of lines and of curves both count."""
    assert count_points(rings("M0 0 h9 v9 z", most_points=3)) == 3
    with pytest.raises(BadFile, match="more than 2 points"):
        rings("M0 0 h9 v9 z", most_points=2)
    with pytest.raises(BadFile, match="more than 20000 points"):
        rings("M0 0 A1e12 1e12 0 0 1 1e12 0 z", tolerance=1e-9)


@pytest.mark.parametrize("text", ["M0 0 L1e999 0 L5 5 z", "M0 0 Q1e999 0 5 5 z"])
def test_a_coordinate_that_is_no_number_is_refused(text: str) -> None:
    """A number too large for the machine is infinite."""
    with pytest.raises(BadFile, match="no number"):
        rings(text)
