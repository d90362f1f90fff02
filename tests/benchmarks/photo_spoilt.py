"""
What programs do to a photo on its way: mirrored, shrunk, stretched, filtered, cut short.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING

from tests.benchmarks.photo_light import write_jpeg

if TYPE_CHECKING:
    from tests.benchmarks.photo_raster import Array


@dataclass(frozen=True, slots=True)
class Spoil:
    """
    One way to spoil a file.

    Args:
        of_bytes: From chance and the good photo to the bad one.
        of_levels: The same on levels; used when *of_bytes* is not given.
        is_hopeless: Whether no right number can come of it.
        quality: Of the JPEG that is written.
        says_focal: Whether the EXIF block still tells the focal length.
    """

    of_bytes: Callable[[random.Random, bytes], bytes] | None = None
    of_levels: Callable[[random.Random, Array], Array] | None = None
    is_hopeless: bool = True
    quality: int = 88
    says_focal: bool = True

    def __call__(self, dice: random.Random, photo: bytes, focal_35mm: int) -> bytes:
        """The spoilt photo."""
        import numpy as np
        from PIL import Image

        if self.of_bytes:
            return self.of_bytes(dice, photo)
        with Image.open(BytesIO(photo)) as image:
            levels = np.asarray(image.convert("RGB"))
        if self.of_levels:
            levels = self.of_levels(dice, levels)
        focal = focal_35mm if self.says_focal else 0
        return write_jpeg(np.ascontiguousarray(levels), quality=self.quality, focal_35mm=focal)


def _mirrored(dice: random.Random, levels: Array) -> Array:
    return levels[:, ::-1]


def _shrunk(longest_px: int) -> Callable[[random.Random, Array], Array]:
    def spoil(dice: random.Random, levels: Array) -> Array:
        import cv2

        factor = longest_px / max(levels.shape)
        small: Array = cv2.resize(levels, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
        return small

    return spoil


def _screenshot(dice: random.Random, levels: Array) -> Array:
    import numpy as np

    small = _shrunk(1080)(dice, levels)
    bars = np.zeros((2200, small.shape[1], 3), np.uint8)
    bars[600 : 600 + small.shape[0]] = small
    return bars


def _grey(dice: random.Random, levels: Array) -> Array:
    import numpy as np

    grey: Array = np.repeat(levels[:, :, 1:2] // 2 + levels[:, :, :1] // 2, 3, axis=2)
    return grey


def _sepia(dice: random.Random, levels: Array) -> Array:
    import numpy as np

    grey = _grey(dice, levels)[:, :, :1].astype(np.float32)
    toned: Array = np.clip(grey * np.array((1.0, 0.82, 0.58), np.float32), 0, 255).astype(np.uint8)
    return toned


def _negative(dice: random.Random, levels: Array) -> Array:
    return 255 - levels


def _warped(
    shift_of: Callable[[Array, Array], tuple[Array, Array]],
) -> Callable[[random.Random, Array], Array]:
    """Read the picture at other places; coordinates run from -1 to 1 across the width."""

    def spoil(dice: random.Random, levels: Array) -> Array:
        import cv2
        import numpy as np

        height, width = levels.shape[:2]
        half = width / 2
        x, y = np.meshgrid(
            (np.arange(width, dtype=np.float32) - half) / half,
            (np.arange(height, dtype=np.float32) - height / 2) / half,
        )
        u, v = shift_of(x, y)
        places = (u * half + half).astype(np.float32), (v * half + height / 2).astype(np.float32)
        bent: Array = cv2.remap(levels, *places, cv2.INTER_LINEAR)
        return bent

    return spoil


def _crumple(x: Array, y: Array) -> tuple[Array, Array]:
    import numpy as np

    return x + 0.004 * np.sin(17 * y + 3), y + 0.004 * np.sin(13 * x)


def _roll(x: Array, y: Array) -> tuple[Array, Array]:
    """Each row of the sensor was read a little later, while the phone swung and swung back."""
    return x + 0.03 * y * y, y


def _stretch(x: Array, y: Array) -> tuple[Array, Array]:
    return x, y * 1.12


def _fish_eye(x: Array, y: Array) -> tuple[Array, Array]:
    r2 = x * x + y * y
    return x * (0.8 + 0.15 * r2), y * (0.8 + 0.15 * r2)


def _doubled(dice: random.Random, levels: Array) -> Array:
    import numpy as np

    shifted = np.roll(levels, (23, 31), axis=(0, 1))
    doubled: Array = levels // 2 + shifted // 2
    return doubled


def _collage(dice: random.Random, levels: Array) -> Array:
    import numpy as np

    small = _shrunk(2000)(dice, levels)
    return np.hstack((small, small))


def _cropped_to_field(dice: random.Random, levels: Array) -> Array:
    height, width = levels.shape[:2]
    return levels[height // 3 : 2 * height // 3, width // 3 : 2 * width // 3]


def _cut_short(dice: random.Random, photo: bytes) -> bytes:
    return photo[: len(photo) // 3]


def _flipped_bits(dice: random.Random, photo: bytes) -> bytes:
    data = bytearray(photo)
    for _ in range(40):
        data[dice.randrange(len(data) // 10, len(data))] ^= 1 << dice.randrange(8)
    return bytes(data)


SPOILS: dict[str, Spoil] = {
    "mirrored": Spoil(of_levels=_mirrored),
    "chat-thumbnail": Spoil(of_levels=_shrunk(560), quality=60),
    "screenshot": Spoil(of_levels=_screenshot, is_hopeless=False, says_focal=False),
    "crushed": Spoil(quality=3, is_hopeless=False),
    "grey": Spoil(of_levels=_grey, is_hopeless=False),
    "sepia": Spoil(of_levels=_sepia, is_hopeless=False),
    "negative": Spoil(of_levels=_negative),
    "crumpled": Spoil(of_levels=_warped(_crumple)),
    "rolling-shutter": Spoil(of_levels=_warped(_roll)),
    "stretched": Spoil(of_levels=_warped(_stretch), is_hopeless=False),
    "fish-eye": Spoil(of_levels=_warped(_fish_eye), is_hopeless=False),
    "double-exposure": Spoil(of_levels=_doubled),
    "collage": Spoil(of_levels=_collage, is_hopeless=False),
    "cropped-to-field": Spoil(of_levels=_cropped_to_field),
    "cut-short": Spoil(of_bytes=_cut_short),
    "flipped-bits": Spoil(of_bytes=_flipped_bits, is_hopeless=False),
    "not-a-picture": Spoil(of_bytes=lambda dice, photo: b"%PDF-1.4 a receipt\n" * 40),
    "no-bytes": Spoil(of_bytes=lambda dice, photo: b""),
}
"""Every way, by kind."""
