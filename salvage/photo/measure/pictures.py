"""
Pictures to look at before a measurement is believed: the board squared up, and the outline drawn.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from salvage.photo.measure.camera import Camera, FlatView, View

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from salvage.photo.measure.result import Placing

    Floats = NDArray[np.float64]

MOST_SQUARED_PX = 3_000_000
LONGEST_OVERLAY_PX = 1400
MOST_PX_PER_MM = 10.0

_JPEG_QUALITY = 85
_STEP = 16


def draw_squared(
    rgb: NDArray[np.uint8],
    view: View,
    placing: Placing,
    size_mm: tuple[float, float],
    *,
    z: float,
    native: float,
) -> tuple[bytes, float]:
    """
    The board in the board frame as a PNG, and its pixels per mm.

    Args:
        rgb: The photo.
        view: Where places are seen in it.
        placing: How the board lies.
        size_mm: Width and height of its bounding box.
        z: Height of its upper face.
        native: Pixels per mm of the photo; the picture is not made finer.
    """
    import cv2
    import numpy as np

    width, height = size_mm
    scale = min(MOST_PX_PER_MM, native, math.sqrt(MOST_SQUARED_PX / (width * height)))
    columns, rows = max(1, round(width * scale)), max(1, round(height * scale))
    across, down = columns // _STEP + 2, rows // _STEP + 2
    x, y = np.meshgrid(
        (np.linspace(-0.5, columns - 0.5, across) + 0.5) / scale,
        height - (np.linspace(-0.5, rows - 0.5, down) + 0.5) / scale,
    )
    places = to_mat(np.stack([x, y], axis=-1), placing)
    heights = np.full((*places.shape[:-1], 1), z)
    coarse = view.project(np.concatenate([places, heights], axis=-1)).astype(np.float32)
    at_x = ((np.arange(columns) + 0.5) * (across - 1) / columns).astype(np.float32)
    at_y = ((np.arange(rows) + 0.5) * (down - 1) / rows).astype(np.float32)
    grid = np.meshgrid(at_x, at_y)
    fine = [cv2.remap(coarse[..., k], *grid, cv2.INTER_LINEAR) for k in range(2)]
    squared = cv2.remap(rgb, fine[0], fine[1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)
    bgr = cv2.cvtColor(squared, cv2.COLOR_RGB2BGR)
    _, png = cv2.imencode(".png", bgr, [cv2.IMWRITE_PNG_COMPRESSION, 1])
    return png.tobytes(), scale


def draw_overlay(rgb: NDArray[np.uint8], rings_px: list[Floats]) -> bytes:
    """
    The photo, made smaller, with rings drawn on it: white with a black rim, seen on any colour.

    Args:
        rgb: The photo.
        rings_px: Closed rings in its pixels.
    """
    import cv2
    import numpy as np

    factor = min(1.0, LONGEST_OVERLAY_PX / max(rgb.shape[:2]))
    small = cv2.resize(rgb, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    lines = [np.rint(((ring + 0.5) * factor - 0.5) * 16).astype(np.int32) for ring in rings_px]
    for colour, width in (((0, 0, 0), 5), ((255, 255, 255), 2)):
        cv2.polylines(small, lines, True, colour, width, cv2.LINE_AA, 4)
    bgr = cv2.cvtColor(small, cv2.COLOR_RGB2BGR)
    _, jpeg = cv2.imencode(".jpg", bgr, [cv2.IMWRITE_JPEG_QUALITY, _JPEG_QUALITY])
    return jpeg.tobytes()


def to_mat(places: Floats, placing: Placing) -> Floats:
    """Places of the board frame in the mat frame."""
    import numpy as np

    c, s = math.cos(placing.turn_rad), math.sin(placing.turn_rad)
    moved: Floats = places @ np.array([[c, s], [-s, c]]) + np.array(placing.origin_mm)
    return moved


def to_board(places: Floats, placing: Placing) -> Floats:
    """Places of the mat frame in the board frame."""
    import numpy as np

    c, s = math.cos(placing.turn_rad), math.sin(placing.turn_rad)
    moved: Floats = (places - np.array(placing.origin_mm)) @ np.array([[c, -s], [s, c]])
    return moved


def distortion_mm(view: View, corners: Floats) -> float:
    """By how much the lens displaces the farthest of some places; 0 where there is no lens."""
    import numpy as np

    if isinstance(view, FlatView) or not isinstance(view, Camera):
        return 0.0
    flat = np.concatenate([corners, np.zeros((len(corners), 1))], axis=1)
    pixels = view.project(flat)
    bent = (pixels - np.array(view.lens.centre_px)) / view.lens.focal_px
    moved = np.linalg.norm(bent - view.lens.straighten(bent), axis=1)
    return float(moved.max() * view.centre[2])
