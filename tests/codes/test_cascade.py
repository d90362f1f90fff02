"""The later steps of reading: dirt, glare, bars at an angle, and labels nobody can read."""

from __future__ import annotations

import numpy as np
import pytest

from salvage.codes.cascade import read_pixels
from salvage.codes.rebuild import rebuild
from tests.benchmarks.read_rate_set import Cell, take


def cell(condition: str, design: str, *, turn: int = 0) -> Cell:
    """A picture of a good-sized label."""
    size_mm = 42.0 if design == "code128" else 18.0
    return Cell(20261125, "crop", condition, "12 MP", design, size_mm, turn)


@pytest.mark.parametrize(
    "condition", ["clean", "tilt 45-50", "jpeg 25", "light on dark", "defocus"]
)
@pytest.mark.parametrize("design", ["qr_m", "qr_h", "data_matrix", "card_qr", "code128"])
def test_a_label_is_read(condition: str, design: str) -> None:
    """Each design, tilted or dark or blurred, gives its own code and no other."""
    picture, (truth,) = take(cell(condition, design))
    told = read_pixels(picture, None)

    assert [str(one.code) for one in told.codes] == [truth.code]


@pytest.mark.parametrize("condition", ["dirt", "glare"])
@pytest.mark.parametrize("design", ["qr_m", "qr_h", "data_matrix", "card_qr"])
def test_a_spoilt_symbol_is_rebuilt_from_its_grid(condition: str, design: str) -> None:
    """Where the place is known, of six dirty or glared symbols at least five are worked out."""
    right = 0
    for turn in range(6):
        picture, (truth,) = take(cell(condition, design, turn=turn))
        rim = tuple((round(x), round(y)) for x, y in truth.corners_px)
        found = rebuild(picture, rim).reading
        assert found is None or found.code == truth.code
        right += found is not None

    assert right >= 5


@pytest.mark.parametrize(
    "glared",
    [
        Cell(424242, "crop", "glare", "12 MP", "qr_h", 18.0, 8),
        Cell(777, "crop", "glare", "3 MP", "qr_h", 18.0, 10),
    ],
)
def test_a_broken_symbol_at_no_place_does_no_harm(glared: Cell) -> None:
    """The first reader now and then tells of a broken symbol without saying where."""
    picture, (truth,) = take(glared)

    assert [str(one.code) for one in read_pixels(picture, None).codes] == [truth.code]


def test_nothing_is_made_out_of_noise() -> None:
    """A patch of noise is rebuilt into nothing, wherever one looks."""
    noise = np.random.default_rng(3).integers(0, 256, (400, 400), dtype=np.uint8)
    rim = ((100, 100), (300, 100), (300, 300), (100, 300))

    assert rebuild(noise, rim).reading is None
    assert read_pixels(noise, None).codes == ()


def test_a_label_half_covered_is_told_unread_or_read_right() -> None:
    """Of covered labels none is read wrong, and some are told as seen but not read."""
    told_unread = 0
    for turn in range(2, 82, 4):
        picture, truths = take(Cell(5, "negative", "occluded", "12 MP", turn=turn))
        told = read_pixels(picture, None)
        assert {str(one.code) for one in told.codes} <= {truth.code for truth in truths}
        told_unread += bool(told.unread)

    assert told_unread >= 3
