"""Two photos of one board make one rim, each trusted where it sees the edge best."""

from __future__ import annotations

import numpy as np
import pytest

from salvage.photo.measure.camera import FlatView
from salvage.photo.measure.contour import Heights, Rim, join_rims, outward_of

HEIGHTS = Heights(0.0, 1.6)


def rim_from(side: int, *, fat_mm: float) -> tuple[Rim, FlatView]:
    """A board of 40 x 30 mm whose left or right edge shows its side, and is seen too far out."""
    x = np.concatenate([np.arange(0, 40, 0.2), np.full(150, 40.0)])
    y = np.concatenate([np.zeros(200), np.arange(0, 30, 0.2)])
    line = np.column_stack([np.concatenate([x, 40 - x]), np.concatenate([y, 30 - y])])
    outward = outward_of(line)
    far_left_or_right = np.array([20 + 500.0 * side, 15.0, 250.0])
    shown = side * outward[:, 0] > 0.5
    pixels = line + fat_mm * shown[:, None] * outward
    clear = np.ones(len(line), bool)
    return Rim(pixels, outward, clear, 1.0), FlatView(np.eye(3), far_left_or_right)


def width_of(places: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> float:
    """How wide the middle of the board is."""
    middle = places[np.abs(places[:, 1] - 15) < 10]
    return float(middle[:, 0].max() - middle[:, 0].min())


def test_an_edge_is_taken_from_the_photo_that_does_not_show_its_side() -> None:
    """A side blurred into the edge makes one photo 0.2 mm too wide, and two photos nearly none."""
    (first, view), (second, other) = rim_from(1, fat_mm=0.2), rim_from(-1, fat_mm=0.2)

    joined = join_rims((first, second), (view, other), HEIGHTS)

    assert width_of(first.pixels) == pytest.approx(40.2)
    assert width_of(joined) == pytest.approx(40.0, abs=0.05)


def test_a_thing_that_only_one_photo_shows_is_not_mixed_in() -> None:
    """Where the second photo's edge lies a millimetre off, it is another edge, and is left out."""
    (first, view), (second, other) = rim_from(1, fat_mm=0.0), rim_from(-1, fat_mm=1.0)

    joined = join_rims((first, second), (view, other), HEIGHTS)

    assert width_of(joined) == pytest.approx(40.0, abs=1e-6)
