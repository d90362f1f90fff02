"""
Gates: what a photo must show before a number is given.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.photo.measure.camera import Camera, px_per_mm
from salvage.photo.measure.pictures import distortion_mm
from salvage.photo.measure.refusal import PhotoRefused

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from salvage.photo.measure.contour import Rim
    from salvage.photo.measure.field import Body, Field
    from salvage.photo.measure.fit import CameraFit
    from salvage.photo.measure.markers import FoundMarkers
    from salvage.photo.measure.mat import Mat

    Floats = NDArray[np.float64]

MOST_TILT_DEG = 45.0
LEAST_HULL_SHARE = 0.5
"""Markers on one side only leave the lens and the far side open."""

MOST_DISTORTION = 0.04
"""Main cameras of phones bend by up to 1 %; what bends more is an ultra-wide or an effect."""

MOST_RESIDUAL_MM = 0.10
MOST_GRAIN = 0.12
"""Beyond this, noise by itself moves corners by more than a bent mat would."""

MOST_STRETCH = 0.03
"""No camera stretches, but a printer may, by up to a percent or two."""

MOST_BLUR_MM = 0.30
LEAST_PX_PER_MM = 3.0
LEAST_CLEAR_SHARE = 0.8
LEAST_BODY_MM2 = 50.0
SECOND_BODY_MM2, SECOND_BODY_SHARE = 600.0, 0.25
MOST_CLIPPED = 0.5
DARKEST_LIGHT = 0.008
MOST_NOISE = 0.22
LEAST_SATURATION = 0.7
MOST_DOUBTFUL_HOLES = 40

_LENS_RESIDUALS = 3.0
_ODD_FOCAL, _ODD_TANGENTIAL = 0.08, 0.006
_CLIPPED_LEVEL = 252
_HAIR_MM = 1.5


def check_view(mat: Mat, found: FoundMarkers, fit: CameraFit) -> None:
    """
    Refuse a place of the camera from which the mat cannot be measured.

    Raises:
        PhotoRefused: ``lop-sided-markers`` or ``tilted``.
    """
    share = _hull_share(mat, found)
    if share < LEAST_HULL_SHARE:
        raise PhotoRefused(
            "lop-sided-markers",
            f"the markers seen span only {share:.0%} of the mat",
        )
    if fit.camera.tilt_deg > MOST_TILT_DEG:
        raise PhotoRefused(
            "tilted",
            f"the camera leans {fit.camera.tilt_deg:.0f} degrees, {MOST_TILT_DEG:.0f} at most",
        )


def check_fit(mat: Mat, fit: CameraFit, *, grain: float) -> None:
    """
    Refuse a photo that no camera explains well enough, and say what is likely to blame.

    Args:
        mat: The mat.
        fit: The camera.
        grain: Noise beside the markers as a share of their contrast.

    Raises:
        PhotoRefused: ``wide-angle``, ``too-small``, ``too-dark`` or ``bent-mat``.
    """
    scale = field_scale(mat, fit.camera)
    # Corners of few pixels scatter by themselves.
    most = max(MOST_RESIDUAL_MM, 0.5 / scale)
    bent = _bend(mat, fit)
    # A lens may bend as much as it likes and still fit; paper that is bent does not.
    if bent > MOST_DISTORTION and fit.residual_mm < _LENS_RESIDUALS * most:
        raise PhotoRefused("wide-angle", f"the lens bends the mat by {bent:.0%} of its size")
    if scale < LEAST_PX_PER_MM:
        raise PhotoRefused(
            "too-small", f"the photo has {scale:.1f} pixels per mm, {LEAST_PX_PER_MM:g} at least"
        )
    if fit.residual_mm > most and grain > MOST_GRAIN:
        raise PhotoRefused("too-dark", f"noise is {grain:.0%} of the difference of black and white")
    if fit.residual_mm > most:
        raise PhotoRefused(
            "bent-mat",
            f"the markers miss their places by {fit.residual_mm:.2f} mm, {most:.2f} at most",
        )


def _bend(mat: Mat, fit: CameraFit) -> float:
    """By how much the lens displaces the field's farthest corner, as a share of the field."""
    import numpy as np

    left, bottom, right, top = mat.field
    corners = np.array([(left, bottom), (right, bottom), (right, top), (left, top)])
    return distortion_mm(fit.camera, corners) / math.hypot(right - left, top - bottom)


def may_be_stretched(fit: CameraFit, *, focal_px: float) -> bool:
    """
    Whether a fit is odd enough to ask for a stretch, which takes as long as the fit itself.

    Args:
        fit: The camera, fitted as if pixels were square.
        focal_px: Focal length by the camera's own word; 0 if not known.
    """
    lens = fit.camera.lens
    if not focal_px:
        return True
    return (
        abs(math.log(lens.focal_px / focal_px)) > _ODD_FOCAL
        or max(map(abs, lens.tangential)) > _ODD_TANGENTIAL
    )


def check_stretch(stretch: float) -> None:
    """
    Refuse a photo that was stretched in one direction.

    Raises:
        PhotoRefused: ``stretched``.
    """
    if abs(math.log(stretch)) > MOST_STRETCH:
        raise PhotoRefused("stretched", f"things seem {stretch:.2f} times as high as they are wide")


def field_scale(mat: Mat, camera: Camera) -> float:
    """Pixels per mm in the middle of the field."""
    left, bottom, right, top = mat.field
    return px_per_mm(camera, ((left + right) / 2, (bottom + top) / 2), 0.0)


def _hull_share(mat: Mat, found: FoundMarkers) -> float:
    import numpy as np
    import shapely

    by_number = {marker.number: marker for marker in mat.markers}
    corners = [by_number[n].corners for n in found.numbers if n in by_number]
    hull = shapely.MultiPoint(np.array(corners).reshape(-1, 2)).convex_hull
    left, bottom, right, top = mat.reach
    return float(hull.area) / ((right - left) * (top - bottom))


def check_blur(blur_px: float, scale: float) -> None:
    """
    Refuse a photo whose edges are smeared.

    Args:
        blur_px: Blur of the markers' edges, standard deviation in pixels.
        scale: Pixels per mm.

    Raises:
        PhotoRefused: ``blurred``.
    """
    if blur_px / scale > MOST_BLUR_MM:
        raise PhotoRefused(
            "blurred", f"edges are smeared over {blur_px / scale:.2f} mm, {MOST_BLUR_MM} at most"
        )


@dataclass(frozen=True, slots=True)
class Exposure:
    """
    Light of a photo.

    Args:
        clipped: Share of the field's cells where two colours or more are at their top.
    """

    clipped: float


def field_exposure(coded: NDArray[np.uint8]) -> Exposure:
    """
    How much of a squared-up field is burnt out.

    Args:
        coded: 8-bit sRGB of the field.
    """
    import numpy as np

    at_top = (coded[::4, ::4] >= _CLIPPED_LEVEL).sum(axis=2) >= 2
    return Exposure(float(np.mean(at_top)))


def check_field(field: Field, exposure: Exposure) -> None:
    """
    Refuse light in which hues cannot be told.

    Raises:
        PhotoRefused: ``too-dark``, ``overexposed`` or ``low-contrast``.
    """
    if field.level < DARKEST_LIGHT:
        raise PhotoRefused("too-dark", f"the field has only {field.level:.1%} of full light")
    if exposure.clipped > MOST_CLIPPED:
        raise PhotoRefused("overexposed", f"{exposure.clipped:.0%} of the field is burnt out")
    if field.noise > MOST_NOISE:
        slug = "too-dark" if field.level < 0.1 else "cluttered"
        raise PhotoRefused(slug, f"the field's hue varies by {field.noise:.2f} by noise alone")
    if field.saturation < LEAST_SATURATION:
        raise PhotoRefused("low-contrast", "the field has hardly any colour in this photo")


def check_bodies(bodies: list[Body]) -> tuple[Body, list[Body]]:
    """
    The board, and what else is large enough to be one.

    Raises:
        PhotoRefused: ``no-board``, ``cut-off`` or ``over-border``.
    """
    if not bodies or bodies[0].area_mm2 < LEAST_BODY_MM2:
        raise PhotoRefused("no-board", "nothing of a board's size lies on the field")
    board = bodies[0]
    if board.touches_unseen:
        raise PhotoRefused("cut-off", "the photo's frame cuts off the board")
    if board.touches:
        sides = " and ".join(sorted(board.touches))
        raise PhotoRefused("over-border", f"the board reaches the {sides} edge of the field")
    others = [
        body
        for body in bodies[1:]
        if not body.touches
        and body.area_mm2 >= min(SECOND_BODY_MM2, SECOND_BODY_SHARE * board.area_mm2)
    ]
    return board, others


def check_rim(rim: Rim) -> None:
    """
    Refuse a rim that is mostly guessed.

    Raises:
        PhotoRefused: ``low-contrast``.
    """
    share = float(rim.clear.mean())
    if share < LEAST_CLEAR_SHARE:
        raise PhotoRefused(
            "low-contrast",
            f"the edge is clear along {share:.0%} only, {LEAST_CLEAR_SHARE:.0%} at least",
        )


def check_holes(doubtful: int) -> None:
    """
    Refuse a board full of specks that look like holes and are none.

    Raises:
        PhotoRefused: ``cluttered``.
    """
    if doubtful > MOST_DOUBTFUL_HOLES:
        raise PhotoRefused("cluttered", f"{doubtful} specks on the board look like the field")
