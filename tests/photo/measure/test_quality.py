"""Bad photos are refused for what is wrong with them, so that the advice helps."""

from __future__ import annotations

import pytest

from salvage.photo.measure.fit import stretch_of
from salvage.photo.measure.markers import mat_markers
from salvage.photo.measure.mat import standard_mat
from salvage.photo.measure.measuring import measure_photo
from salvage.photo.measure.pixels import read_pixels
from salvage.photo.measure.refusal import PhotoRefused
from salvage.photo.measure.sharpness import marker_grain
from tests.benchmarks.photo_bad import make_bad
from tests.photo.measure.shots import BOARD, photo

MATS = [standard_mat("a4")]


@pytest.mark.parametrize(
    ("kind", "seed", "reason"),
    [
        ("dark", 1, "too-dark"),
        ("noisy", 2, "too-dark"),
        ("stretched", 2, "stretched"),
        ("stretched", 4, "stretched"),
        ("fish-eye", 1, "wide-angle"),
        ("bent-mat", 1, "bent-mat"),
        ("crumpled", 1, "bent-mat"),
    ],
)
def test_the_reason_is_what_is_wrong(kind: str, seed: int, reason: str) -> None:
    """More light does not flatten a mat, and a flatter mat brings no light."""
    with pytest.raises(PhotoRefused) as caught:
        measure_photo(make_bad(kind, seed, megapixels=3).first, mats=MATS, thickness_mm=1.6)

    assert caught.value.reason == reason


def _stretch(data: bytes, *, noted: bool) -> float:
    pixels = read_pixels(data)
    mat, found = mat_markers(pixels.rgb, MATS)
    focal = pixels.focal_px if noted else 0.0
    return stretch_of(mat, found, size=pixels.size, focal_px=focal)


@pytest.mark.parametrize("noted", [True, False])
def test_a_stretch_is_measured(noted: bool) -> None:
    """A photo squeezed to 1/1.12 of its height is found to be so, whether or not EXIF is left."""
    squeezed = _stretch(make_bad("stretched", 2, megapixels=3).first, noted=noted)
    honest = _stretch(photo(BOARD), noted=noted)

    assert squeezed == pytest.approx(1 / 1.12, abs=0.01)
    assert honest == pytest.approx(1.0, abs=0.01)


def test_grain_is_noise_and_not_slope() -> None:
    """A clean photo has little, whatever the light does across the mat."""
    pixels = read_pixels(photo(BOARD))
    _, found = mat_markers(pixels.rgb, MATS)
    noisy = read_pixels(make_bad("noisy", 1, megapixels=3).first)
    _, found_noisy = mat_markers(noisy.rgb, MATS)

    assert marker_grain(pixels.rgb, found.corners_px) < 0.03
    assert marker_grain(noisy.rgb, found_noisy.corners_px) > 0.3
