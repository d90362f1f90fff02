"""
One photo of a mat, understood as far as the places of the boards on it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, TypeAlias

from salvage.photo.measure.field import Body, find_bodies, see_field, square_codes
from salvage.photo.measure.fit import CameraFit, fit_camera, stretch_of
from salvage.photo.measure.markers import FoundMarkers, mat_markers
from salvage.photo.measure.mat import BoxMm, Mat, PrintScale
from salvage.photo.measure.mat_code import code_pictures
from salvage.photo.measure.pixels import read_pixels
from salvage.photo.measure.quality import (
    check_blur,
    check_bodies,
    check_field,
    check_fit,
    check_stretch,
    check_view,
    field_exposure,
    field_scale,
    may_be_stretched,
)
from salvage.photo.measure.sharpness import Blur, marker_blur, marker_grain
from salvage.photo.measure.strip import Strip, see_strips, without_strips
from salvage.photo.measure.trace import Sight

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

ScaleAsker: TypeAlias = Callable[[Mat, tuple[bytes, ...]], PrintScale | None]
"""
Tells the scale of the print in the photo: is given the mat that the markers show, and pictures of
the places where its code may stand; may refuse it.
"""

_EXPOSURE_PX_PER_MM = 1.0


@dataclass(slots=True)
class Stopwatch:
    """Seconds of each stage, by a clock that was handed in."""

    clock: Callable[[], float] | None
    laps: list[tuple[str, float]] = field(default_factory=list)
    _last: float = 0.0

    def __post_init__(self) -> None:
        self._last = self.clock() if self.clock else 0.0

    def lap(self, stage: str) -> None:
        """Note the time since the last stage ended."""
        if self.clock:
            now = self.clock()
            self.laps.append((stage, now - self._last))
            self._last = now


@dataclass(frozen=True, slots=True)
class Seen:
    """One photo, understood as far as the boards' places on the mat; *body* is in hand."""

    mat: Mat
    scale: PrintScale | None
    fit: CameraFit
    strips: tuple[Strip, ...]
    sight: Sight
    body: Body
    others: tuple[Body, ...]
    blur_mm: float

    def each(self) -> list[Seen]:
        """The same photo once for each board on the field, the largest first."""
        return [replace(self, body=body) for body in (self.body, *self.others)]


def see(
    data: bytes,
    mats: Sequence[Mat],
    asked: PrintScale | ScaleAsker | None,
    watch: Stopwatch,
) -> Seen:
    """
    What a photo shows; the largest board is in hand.

    Args:
        data: Bytes of the photo.
        mats: Mats that it may show.
        asked: The scale of the print, or who tells it.
        watch: Notes the time of each stage.

    Raises:
        PhotoRefused: If the photo cannot be measured honestly.
        BadFile: If it is no photo at all.
    """
    import numpy as np

    pixels = read_pixels(data)
    watch.lap("read")
    mat, found = mat_markers(pixels.rgb, mats)
    print_scale = _print_scale(asked, pixels.rgb, mat, found)
    watch.lap("markers")
    fit = fit_camera(
        mat, found, size=pixels.size, focal_px=pixels.focal_px, print_scale=print_scale
    )
    own = found.only({marker.number for marker in mat.markers})
    blur_px = marker_blur(pixels.rgb, np.asarray(own.corners_px))
    scale = field_scale(mat, fit.camera)
    check_blur(blur_px, scale)
    check_view(mat, own, fit)
    if may_be_stretched(fit, focal_px=pixels.focal_px):
        check_stretch(stretch_of(mat, own, size=pixels.size, focal_px=pixels.focal_px))
    check_fit(mat, fit, grain=marker_grain(pixels.rgb, own.corners_px))
    watch.lap("camera")
    box = _scaled(mat.field, print_scale)
    field = see_field(pixels.rgb, fit.camera, box)
    coded, _ = square_codes(pixels.rgb, fit.camera, box, scale=_EXPOSURE_PX_PER_MM)
    check_field(field, field_exposure(coded))
    strips = see_strips(found, fit, print_scale=print_scale)
    board, others = check_bodies(without_strips(find_bodies(field), field, strips))
    watch.lap("field")
    sight = Sight(pixels.rgb, fit.camera, field, Blur(blur_px, pixels.colour_px))
    return Seen(mat, print_scale, fit, strips, sight, board, tuple(others), blur_px / scale)


def _print_scale(
    asked: PrintScale | ScaleAsker | None,
    rgb: NDArray[np.uint8],
    mat: Mat,
    found: FoundMarkers,
) -> PrintScale | None:
    """The scale as it was told, or as whoever is asked tells it now that the mat is seen."""
    if asked is None or isinstance(asked, PrintScale):
        return asked
    return asked(mat, code_pictures(rgb, mat, found))


def _scaled(box: BoxMm, print_scale: PrintScale | None) -> BoxMm:
    if print_scale is None:
        return box
    left, bottom, right, top = box
    x, y = print_scale.x, print_scale.y
    return left * x, bottom * y, right * x, top * y
