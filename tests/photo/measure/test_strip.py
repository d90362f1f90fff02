"""Height strips: what they say of a board's height, and when they are not believed."""

from __future__ import annotations

from dataclasses import replace

import pytest

from salvage.photo.measure.measuring import measure_photo
from salvage.photo.measure.refusal import PhotoRefused
from salvage.photo.measure.result import Measurement
from tests.photo.measure.scene import Shot
from tests.photo.measure.shots import BOARD, CHECKED, MATS, OTHER_SIDE, photo

UPPER = 4.0
RAISED = replace(BOARD, standoff=2.4, strip=(0, 95.0, 62.0, UPPER + 0.1), size=(3000, 2250))
"""The board on stilts of solder, with a strip on its face."""

FLAT = (1, 8.0, 8.0, 0.1)
"""Another strip, flat on the mat, clear of the board."""


def measured(shot: Shot, *, second: Shot | None = None) -> Measurement:
    """The measurement of a shot whose thickness is known."""
    return measure_photo(
        photo(shot),
        mats=MATS,
        thickness_mm=1.6,
        print_scale=CHECKED,
        second_photo=photo(second) if second else None,
    )


def says(result: Measurement, words: str) -> bool:
    """Whether a warning holds these words."""
    return any(words in warning for warning in result.warnings)


def test_a_strip_alone_is_taken_as_true_as_the_mat_and_that_is_said() -> None:
    """Its height is used; that nobody checked its print is told, and widens the interval."""
    alone = measured(RAISED)
    checked = measured(replace(RAISED, flat_strip=FLAT))

    assert alone.height.source == "strip"
    assert alone.height.upper_mm == pytest.approx(UPPER, abs=0.3)
    assert says(alone, "printed as true as the mat")
    assert not says(checked, "printed as true as the mat")
    assert checked.interval_mm < alone.interval_mm


@pytest.mark.parametrize("scale", [0.985, 1.0, 1.015])
def test_a_second_strip_on_the_mat_mends_the_print(scale: float) -> None:
    """Strips printed 1.5 % wrong would be off by 4 mm; one flat on the mat takes that out."""
    result = measured(replace(RAISED, flat_strip=FLAT, strip_scale=scale))

    assert result.height.source == "strip"
    assert result.height.upper_mm == pytest.approx(UPPER, abs=0.35)
    assert result.outline.size_mm[0] == pytest.approx(130, abs=0.15)


def test_a_strip_beside_the_board_is_no_second_board() -> None:
    """It is known by its markers, and left out of the outline and the count."""
    result = measured(replace(BOARD, flat_strip=FLAT, size=(3000, 2250)))

    assert result.height.source == "assumed"
    assert result.outline.size_mm[0] == pytest.approx(130, abs=0.6)


def test_strips_printed_too_small_are_refused() -> None:
    """By a strip at 97 % the board would lie under the mat: that cannot be."""
    with pytest.raises(PhotoRefused, match="below the mat") as caught:
        measured(replace(RAISED, strip_scale=0.97))

    assert caught.value.reason == "bad-strip"


def test_strips_printed_too_large_are_doubted() -> None:
    """By a strip at 102 % the board would lie 7 mm up; a person is asked to look."""
    assert says(measured(replace(RAISED, strip_scale=1.02)), "printed too large")


def test_two_photos_are_believed_before_a_strip() -> None:
    """Where two photos and a wrongly printed strip differ, the strip is named."""
    shot = replace(RAISED, strip_scale=1.015)
    result = measured(shot, second=replace(OTHER_SIDE, standoff=2.4, size=(3000, 2250)))

    assert result.height.source == "two photos"
    assert result.height.upper_mm == pytest.approx(UPPER, abs=0.2)
    assert says(result, "the height strip is off by")
