"""
Light between pixels, and how softly a photo shows a sharp edge.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.photo.measure.pixels import linear_levels

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Blur:
    """
    How a photo softens edges, as standard deviations in pixels.

    Args:
        light_px: Of brightness: the lens, motion, focus.
        colour_px: What the file adds for colour.
    """

    light_px: float
    colour_px: float


def sample_light(rgb: NDArray[np.uint8], x: Floats, y: Floats) -> Floats:
    """Linear light between pixel centres, three colours in the last axis."""
    import numpy as np

    levels = linear_levels()
    height, width = rgb.shape[:2]
    x, y = np.clip(x, 0, width - 1.001), np.clip(y, 0, height - 1.001)
    left, upper = x.astype(np.intp), y.astype(np.intp)
    right_share, lower_share = (x - left)[..., None], (y - upper)[..., None]
    rows = [
        levels[rgb[upper + k, left]] * (1 - right_share)
        + levels[rgb[upper + k, left + 1]] * right_share
        for k in range(2)
    ]
    result: Floats = rows[0] * (1 - lower_share) + rows[1] * lower_share
    return result


def marker_blur(rgb: NDArray[np.uint8], corners_px: Floats) -> float:
    """
    Blur of the black markers' outer edges, as the standard deviation of a bell, in pixels.

    Args:
        rgb: The photo.
        corners_px: Four corners of each marker, in order.
    """
    import numpy as np

    start, end = corners_px, np.roll(corners_px, -1, axis=1)
    along = (end - start).reshape(-1, 2)
    length = np.linalg.norm(along, axis=1)
    cell = float(np.median(length)) / 8
    across = np.stack([along[:, 1], -along[:, 0]], axis=1) / length[:, None]
    steps = np.arange(-0.9 * cell, 0.9 * cell + 1e-9, 0.25)
    places = [(start + (end - start) * k).reshape(-1, 2) for k in (0.3, 0.5, 0.7)]
    middles, ways = np.concatenate(places), np.tile(across, (3, 1))
    light = sample_light(
        rgb, middles[:, :1] + ways[:, :1] * steps, middles[:, 1:] + ways[:, 1:] * steps
    )[..., 1]
    low, high = light[:, :2].mean(axis=1), light[:, -2:].mean(axis=1)
    rise = np.abs(np.diff(light, axis=1)).max(axis=1) / 0.25
    slope = float(np.median(rise / np.maximum(np.abs(high - low), 0.02)))
    # Sampling between pixels and over the pixel itself softens too: about 1/6 + 1/12 px².
    return math.sqrt(max(0.05, 1 / (2 * math.pi * max(slope, 1e-3) ** 2) - 0.15))


def marker_grain(rgb: NDArray[np.uint8], corners_px: Floats) -> float:
    """
    Noise of light just outside the markers' edges, as a share of their black and white's contrast.

    Args:
        rgb: The photo.
        corners_px: Four corners of each marker, in order.
    """
    import numpy as np

    start, end = corners_px, np.roll(corners_px, -1, axis=1)
    along = (end - start).reshape(-1, 2)
    length = np.linalg.norm(along, axis=1)
    across = np.stack([along[:, 1], -along[:, 0]], axis=1) / length[:, None]
    aside = 0.6 * float(np.median(length)) / 8
    at = [(start + (end - start) * k).reshape(-1, 2) for k in (0.3, 0.5, 0.7)]
    # On whole pixels: between them, light is evened out.
    rows = [
        np.stack([_light_at(rgb, np.rint(places + side * aside * across)) for places in at])
        for side in (-1, 1)
    ]
    apart = abs(float(np.median(rows[0]) - np.median(rows[1])))
    spread = max(float(np.median(row.std(axis=0, ddof=1))) for row in rows)
    return spread / max(apart, 1e-3)


def _light_at(rgb: NDArray[np.uint8], places: Floats) -> Floats:
    """Linear green light of whole pixels."""
    import numpy as np

    height, width = rgb.shape[:2]
    x = np.clip(places[:, 0], 0, width - 1).astype(np.intp)
    y = np.clip(places[:, 1], 0, height - 1).astype(np.intp)
    light: Floats = linear_levels()[rgb[y, x, 1]].astype(np.float64)
    return light


def marker_softness(rgb: NDArray[np.uint8], corners_px: Floats) -> float:
    """The same blur as a share of a marker's cell; above a fifth, markers are hard to tell."""
    import numpy as np

    sides = np.linalg.norm(np.roll(corners_px, -1, axis=1) - corners_px, axis=2)
    return marker_blur(rgb, corners_px) / (float(np.median(sides)) / 8)
