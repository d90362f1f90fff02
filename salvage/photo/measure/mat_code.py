"""
The symbols that a printed mat carries among its markers, cut out of a photo and squared up.

What they say is read by others; here they are only found. The markers beside a symbol show where
it lies, so neither lens nor print scale need be known.
"""

from __future__ import annotations

from io import BytesIO
from typing import TYPE_CHECKING

from salvage.photo.measure.mat import Marker, Mat

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from salvage.photo.measure.markers import FoundMarkers

_PX_PER_MARKER = 120
_ROOM = 0.1
"""Paper round a symbol that is cut out with it, as a share of a marker; the next one is farther."""

_LEAST_BESIDE, _MOST_BESIDE = 2, 4
_FARTHEST = 5.0
"""Markers within this many markers' sides show where a symbol lies."""


def code_pictures(rgb: NDArray[np.uint8], mat: Mat, found: FoundMarkers) -> tuple[bytes, ...]:
    """
    A small grey picture of each place where the mat may carry its code, as PNG.

    Places without enough markers beside them are left out. A mat without a code gives pictures of
    what is there instead.

    Args:
        rgb: The photo.
        mat: The mat that it shows.
        found: The markers found in it.
    """
    pictures = (_code_picture(rgb, mat, found, place) for place in mat.code_places)
    return tuple(picture for picture in pictures if picture)


def _code_picture(
    rgb: NDArray[np.uint8], mat: Mat, found: FoundMarkers, place: Marker
) -> bytes | None:
    import cv2
    import numpy as np
    from PIL import Image

    (left, top), (right, _), _, (_, bottom) = place.corners
    side, middle = right - left, np.array([(left + right) / 2, (bottom + top) / 2])
    drawn = {m.number: np.array(m.corners) for m in mat.markers if m.tile == place.tile}
    beside = []
    for number, pixels in zip(found.numbers, found.corners_px, strict=True):
        if number in drawn and number != place.number:
            away = float(np.linalg.norm(drawn[number].mean(axis=0) - middle))
            if away < _FARTHEST * side:
                beside.append((away, number, pixels))
    if len(beside) < _LEAST_BESIDE:
        return None
    nearest = sorted(beside, key=lambda one: one[:2])[:_MOST_BESIDE]
    to_px, _ = cv2.findHomography(
        np.concatenate([drawn[number] for _, number, _ in nearest]),
        np.concatenate([pixels for _, _, pixels in nearest]),
    )
    scale, room = _PX_PER_MARKER / side, _ROOM * side
    corner_x, corner_y = left - room, top + room
    to_mm = np.array([[1 / scale, 0, corner_x], [0, -1 / scale, corner_y], [0, 0, 1]])
    size = round((side + 2 * room) * scale)
    seen = cv2.warpPerspective(
        rgb,
        np.asarray(to_px, float) @ to_mm,
        (size, size),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
    )
    out = BytesIO()
    Image.fromarray(cv2.cvtColor(seen, cv2.COLOR_RGB2GRAY)).save(out, "PNG", compress_level=1)
    return out.getvalue()
