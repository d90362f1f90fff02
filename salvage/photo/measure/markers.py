"""
Markers found in a photo, their corners to a fraction of a pixel.

Corners are refined on light, not on coded levels: the code of a photo bends the slope of an edge
and moves a corner by more than half a pixel.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.photo.measure.mat import STRIP_IDS, Mat, mat_of_markers
from salvage.photo.measure.mat_drawing import CELLS
from salvage.photo.measure.pixels import linear_levels
from salvage.photo.measure.refusal import PhotoRefused
from salvage.photo.measure.sharpness import marker_softness

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

LEAST_MARKERS = 8
"""Eight markers give 64 numbers for the fit's 14 unknowns."""

SEARCH_PX = 2000
"""Longer side at which markers are searched; their corners are refined in the full photo."""

_FULL_SEARCH_BELOW = 0.6
_LEAST_CELL_PX = 2.0
_DARK_LEVEL, _SOFT_CELLS = 60, 0.2
_WINDOW_CELLS, _WINDOW_PX = 0.6, (2, 7)


@dataclass(frozen=True, slots=True)
class FoundMarkers:
    """
    Markers of one photo.

    Args:
        numbers: Their numbers.
        corners_px: One row of four corners for each, in the order of the mat's record; pixel
            centres lie on whole numbers.
    """

    numbers: tuple[int, ...]
    corners_px: NDArray[np.float64]

    def only(self, wanted: set[int]) -> FoundMarkers:
        """Those whose numbers are wanted."""
        keep = [k for k, number in enumerate(self.numbers) if number in wanted]
        return FoundMarkers(tuple(self.numbers[k] for k in keep), self.corners_px[keep])


def find_markers(grey: NDArray[np.uint8]) -> FoundMarkers:
    """
    All markers of the family in a photo, with coarse corners.

    Args:
        grey: Rows from the top, 8-bit.
    """
    import cv2

    longest = max(grey.shape)
    factor = SEARCH_PX / longest
    if factor >= 0.8:
        return _search(grey)
    small = cv2.resize(grey, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    found = _search(small.astype("uint8", copy=False))
    scale_x, scale_y = grey.shape[1] / small.shape[1], grey.shape[0] / small.shape[0]
    corners = found.corners_px.copy()
    # Pixel centres lie on whole numbers, so the picture's edge lies at minus a half.
    corners[..., 0] = (corners[..., 0] + 0.5) * scale_x - 0.5
    corners[..., 1] = (corners[..., 1] + 0.5) * scale_y - 0.5
    return FoundMarkers(found.numbers, corners)


def _search(grey: NDArray[np.uint8]) -> FoundMarkers:
    import cv2
    import numpy as np

    rules = cv2.aruco.DetectorParameters()
    rules.adaptiveThreshWinSizeMin = 15
    rules.adaptiveThreshWinSizeMax = 55
    rules.adaptiveThreshWinSizeStep = 20
    rules.minMarkerPerimeterRate = 0.02
    rules.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_NONE
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    corners, numbers, _ = cv2.aruco.ArucoDetector(family, rules).detectMarkers(grey)
    listed = [int(number) for number in np.ravel(numbers)] if len(corners) else []
    once = [k for k, number in enumerate(listed) if listed.count(number) == 1]
    return FoundMarkers(
        tuple(listed[k] for k in once),
        np.array([corners[k].reshape(4, 2) for k in once], float).reshape(-1, 4, 2),
    )


def refine_corners(light: NDArray[np.float32], found: FoundMarkers) -> FoundMarkers:
    """
    The same markers with corners to a fraction of a pixel.

    Args:
        light: Linear light of the photo, one channel.
        found: Markers with coarse corners.
    """
    import cv2
    import numpy as np

    if not found.numbers:
        return found
    corners = found.corners_px.astype(np.float32)
    sides = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2)
    cells = np.median(sides.min(axis=1)) / CELLS
    window = int(np.clip(round(cells * _WINDOW_CELLS), *_WINDOW_PX))
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 40, 0.005)
    flat = np.ascontiguousarray(corners.reshape(-1, 1, 2))
    refined = cv2.cornerSubPix(light, flat, (window, window), (-1, -1), stop).reshape(-1, 4, 2)
    moved = np.linalg.norm(refined - corners, axis=2).max(axis=1)
    keep = moved < max(3.0, cells)
    numbers = tuple(n for n, kept in zip(found.numbers, keep, strict=True) if kept)
    return FoundMarkers(numbers, refined[keep].astype(float))


def mat_markers(rgb: NDArray[np.uint8], mats: Sequence[Mat]) -> tuple[Mat, FoundMarkers]:
    """
    The mat that a photo shows, and the markers found, those of height strips among them.

    Raises:
        PhotoRefused: ``no-mat``, ``too-few-markers``, ``too-small``, ``mirrored`` or ``wrong-mat``.
    """
    import cv2

    grey = cv2.cvtColor(rgb, cv2.COLOR_RGB2GRAY).astype("uint8", copy=False)
    found = find_markers(grey)
    mat = mat_of_markers(set(found.numbers), tuple(mats))
    own = {marker.number for marker in mat.markers} if mat else set()
    count = sum(number in own for number in found.numbers)
    if max(grey.shape) > SEARCH_PX / 0.8 and count < _FULL_SEARCH_BELOW * len(own or {0}):
        again = _search(grey)
        if len(again.numbers) > len(found.numbers):
            found = again
            mat = mat_of_markers(set(found.numbers), tuple(mats))
            own = {marker.number for marker in mat.markers} if mat else set()
            count = sum(number in own for number in found.numbers)
    if mat is None or count < LEAST_MARKERS:
        raise _too_few(rgb, grey, found, count)
    light = cv2.LUT(rgb[..., 1], linear_levels()).astype("float32", copy=False)
    wanted = own | set(STRIP_IDS)
    refined = refine_corners(light, found.only(wanted))
    if sum(number in own for number in refined.numbers) < LEAST_MARKERS:
        raise PhotoRefused("blurred", "the markers' corners cannot be told apart")
    return mat, refined


def _too_few(
    rgb: NDArray[np.uint8], grey: NDArray[np.uint8], found: FoundMarkers, count: int
) -> PhotoRefused:
    import cv2
    import numpy as np

    strange = [n for n in found.numbers if n not in STRIP_IDS]
    if len(strange) - count >= LEAST_MARKERS:
        return PhotoRefused(
            "wrong-mat", f"{len(strange) - count} markers in the photo are of another mat"
        )
    turned = find_markers(cv2.flip(grey, 1).astype("uint8", copy=False))
    if len(turned.numbers) >= LEAST_MARKERS:
        return PhotoRefused("mirrored", "the markers are mirrored")
    if grey.size < 1_000_000:
        return PhotoRefused(
            "too-small", f"the photo has only {grey.shape[1]} x {grey.shape[0]} pixels"
        )
    # Evened out over blocks: single pixels of a dark photo are bright by noise.
    blocks = cv2.resize(grey, None, fx=1 / 16, fy=1 / 16, interpolation=cv2.INTER_AREA)
    bright = float(np.percentile(blocks, 99))
    if bright < _DARK_LEVEL:
        return PhotoRefused(
            "too-dark", f"the brightest parts have only {bright / 255:.0%} of white"
        )
    if len(found.numbers) >= 2 and marker_softness(rgb, found.corners_px) > _SOFT_CELLS:
        return PhotoRefused("blurred", f"only {count} markers are told apart in the smeared photo")
    if not count:
        return PhotoRefused("no-mat", "no marker of a mat is seen in the photo")
    return PhotoRefused("too-few-markers", f"{count} markers are seen, {LEAST_MARKERS} are needed")
