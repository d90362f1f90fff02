"""
Light on a scene, and what lens, sensor and file do to it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING

from tests.benchmarks.photo_raster import dice_of, to_levels

if TYPE_CHECKING:
    from tests.benchmarks.photo_raster import Array

# Light changes slowly over the picture, so it is computed on every thirty-second pixel.
_COARSE = 32


@dataclass(frozen=True, slots=True)
class Light:
    """
    How the bench is lit.

    Args:
        slope: Relative change of light across the picture.
        slope_deg: Which way it falls off.
        shade: How much darker the shadow of a hand or head is; 0 for none.
        shade_soft_px: Width of that shadow's rim, as a share of the picture's width.
        glare: Brightness of the lamp's reflections on gloss; 0 for none.
        glares: How many there are.
        lamp: Shift of a shadow in mm for each mm of height.
        cast: How much darker the board's own shadow is.
        seed: Places of shadow and reflections.
    """

    slope: float = 0.0
    slope_deg: float = 0.0
    shade: float = 0.0
    shade_soft_px: float = 0.05
    glare: float = 0.0
    glares: int = 0
    lamp: tuple[float, float] = (0.4, -0.3)
    cast: float = 0.3
    seed: int = 0


@dataclass(frozen=True, slots=True)
class Finish:
    """
    What happens between the lens and the file.

    Args:
        blur_px: Standard deviation of the lens' blur.
        motion_px: Length of the shake.
        motion_deg: Its direction.
        exposure: Factor on the light; 1 puts white paper just below clipping.
        balance: Factors for red, green and blue.
        noise: Standard deviation at mid grey, as a share of full scale.
        vignette: Darkening of the corners.
        quality: Of the JPEG.
        seed: Of the noise.
    """

    blur_px: float = 0.7
    motion_px: float = 0.0
    motion_deg: float = 0.0
    exposure: float = 0.85
    balance: tuple[float, float, float] = (1.0, 1.0, 1.0)
    noise: float = 0.006
    vignette: float = 0.15
    quality: int = 90
    seed: int = 0


def _fine(coarse: Array, size: tuple[int, int]) -> Array:
    import cv2
    import numpy as np

    return cv2.resize(coarse.astype(np.float32), size, interpolation=cv2.INTER_LINEAR)


def _places(size: tuple[int, int]) -> tuple[Array, Array]:
    """Coarse coordinates from -1 to 1 across the width, y in the same unit."""
    import numpy as np

    columns, rows = max(2, size[0] // _COARSE), max(2, size[1] // _COARSE)
    reach = size[1] / size[0]
    x, y = np.meshgrid(np.linspace(-1, 1, columns), np.linspace(-reach, reach, rows))
    return x, y


def shine(light: Light, finish: Finish, size: tuple[int, int]) -> Array:
    """Factor of light on each pixel (height x width)."""
    import numpy as np

    x, y = _places(size)
    dice = dice_of(("shade", light.seed))
    angle = math.radians(light.slope_deg)
    lit = 1 + light.slope * (x * math.cos(angle) + y * math.sin(angle))
    lit *= 1 - finish.vignette * (x * x + y * y) / 1.56
    if light.shade:
        # A shadow with one straight, soft rim that reaches into the picture from a side.
        turn, reach = dice.uniform(0, 2 * math.pi), dice.uniform(-0.1, 0.5)
        into = x * math.cos(turn) + y * math.sin(turn) - reach
        lit *= 1 - light.shade / (1 + np.exp(-into / light.shade_soft_px))
    return _fine(lit, size)


def glints(light: Light, size: tuple[int, int]) -> Array:
    """Light that gloss throws straight into the lens, on each pixel (height x width)."""
    import numpy as np

    x, y = _places(size)
    dice = dice_of(("glare", light.seed))
    thrown = np.zeros(x.shape)
    for _ in range(light.glares):
        cx, cy, turn = dice.uniform(-0.5, 0.5), dice.uniform(-0.35, 0.35), dice.uniform(0, math.pi)
        long, thin = dice.uniform(0.08, 0.25), dice.uniform(0.03, 0.08)
        a = (x - cx) * math.cos(turn) + (y - cy) * math.sin(turn)
        b = (y - cy) * math.cos(turn) - (x - cx) * math.sin(turn)
        thrown += light.glare * dice.uniform(0.5, 1) * np.exp(-((a / long) ** 2 + (b / thin) ** 2))
    return _fine(thrown, size)


def expose(picture: Array, finish: Finish) -> Array:
    """Levels 0 to 255 of linear light, as lens and sensor make them; *picture* is used up."""
    import cv2
    import numpy as np

    if finish.blur_px > 0:
        cv2.GaussianBlur(picture, (0, 0), finish.blur_px, dst=picture)
    if finish.motion_px > 0:
        picture = cv2.filter2D(picture, -1, _shake(finish))
    picture *= np.array(finish.balance, np.float32) * np.float32(finish.exposure)
    if finish.noise > 0:
        _add_noise(picture, finish)
    return to_levels(picture)


def _shake(finish: Finish) -> Array:
    import cv2
    import numpy as np

    half = math.ceil(finish.motion_px / 2) + 1
    kernel: Array = np.zeros((2 * half + 1, 2 * half + 1), np.float32)
    angle = math.radians(finish.motion_deg)
    dx, dy = finish.motion_px / 2 * math.cos(angle), finish.motion_px / 2 * math.sin(angle)
    first, last = ((round((half + s * dx) * 16), round((half + s * dy) * 16)) for s in (-1, 1))
    cv2.line(kernel, first, last, 1.0, 1, cv2.LINE_8, 4)
    weights: Array = kernel / kernel.sum()
    return weights


def _add_noise(picture: Array, finish: Finish) -> None:
    """Noise that grows with the root of the light, a little alike in neighbours as in files."""
    import cv2
    import numpy as np

    dice = dice_of(("noise", finish.seed))
    edge = 512
    tile: Array = dice.standard_normal((edge, edge, 3), dtype=np.float32)
    tile = cv2.GaussianBlur(tile, (0, 0), 0.5, borderType=cv2.BORDER_REFLECT)
    tile = tile * np.float32(finish.noise / float(tile.std()))
    height, width = picture.shape[:2]
    for top in range(0, height, edge):
        for left in range(0, width, edge):
            there = picture[top : top + edge, left : left + edge]
            # The same tile rolled anew each time: no pattern that an eye or a filter could find.
            shift = int(dice.integers(edge)), int(dice.integers(edge))
            noise = np.roll(tile, shift, axis=(0, 1))[: there.shape[0], : there.shape[1]]
            there += noise * (np.sqrt(np.maximum(there, 0)) * 1.4 + 0.25)


def write_jpeg(levels: Array, *, quality: int, focal_35mm: int = 0, orientation: int = 1) -> bytes:
    """
    A JPEG as a phone writes it.

    Args:
        levels: Height x width x 3, red first.
        quality: 1 to 95.
        focal_35mm: Focal length as if on 35 mm film, for the EXIF block; 0 leaves it out.
        orientation: EXIF number of how the picture is to be turned for looking at.
    """
    from PIL import Image

    image = Image.fromarray(levels)
    exif = Image.Exif()
    exif[0x0112] = orientation
    if focal_35mm:
        # FocalLengthIn35mmFilm and PixelXDimension: EXIF 2.32, table 8 (from memory).
        exif.get_ifd(0x8769).update({0xA405: focal_35mm, 0xA002: levels.shape[1]})
    out = BytesIO()
    image.save(out, "JPEG", quality=quality, exif=exif)
    return out.getvalue()
