"""
A photo's pixels ready for measuring: upright, not larger than useful, with what the file notes.
"""

from __future__ import annotations

import math
import struct
import warnings
from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING

from salvage.photo.decode import read_picture
from salvage.photo.upright import upright_image

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from PIL import Image

MOST_PIXELS = 16_000_000
"""More pixels than this cost time and memory and bring nothing: the lens is the limit, not they."""

_LONGEST_PX = 65_535

# EXIF 2.32 (CIPA DC-008-2019), tables 4 and 8 (from memory): the focal length as if on 35 mm film,
# whose diagonal is 43.27 mm.
_TAG_EXIF_IFD = 0x8769
_TAG_FOCAL_35MM = 0xA405
_FILM_DIAGONAL_MM = math.hypot(36.0, 24.0)

# A colour for each block of 2 x 2 pixels, spread again by a triangle: 2²/12 + 2 · 2²/12 px².
_HALVED_COLOUR_PX = 1.0


@dataclass(frozen=True, slots=True)
class Pixels:
    """
    An upright photo.

    Args:
        rgb: Rows from the top, 8-bit sRGB.
        focal_px: Focal length by the camera's own word, in pixels; 0 where it did not say.
        shrunk: How many times smaller than the file this is.
        colour_px: How far the file blurs colour, as a standard deviation in pixels.
    """

    rgb: NDArray[np.uint8]
    focal_px: float
    shrunk: float
    colour_px: float

    @property
    def size(self) -> tuple[int, int]:
        """Width and height."""
        return self.rgb.shape[1], self.rgb.shape[0]


def read_pixels(data: bytes, *, name: str = "photo") -> Pixels:
    """
    The pixels of a photo, at most 16 million.

    Args:
        data: Bytes of any picture that is taken here.
        name: What to call it in an error.

    Raises:
        BadFile: If it is no picture, or damaged, or too large.
    """
    import numpy as np
    from PIL import Image

    image = read_picture(data, name=name).image
    if image.mode != "RGB":
        image = upright_image(data, longest_px=_LONGEST_PX)
    full = image.size
    scale = math.sqrt(MOST_PIXELS / (full[0] * full[1]))
    if scale < 1:
        size = (max(1, int(full[0] * scale)), max(1, int(full[1] * scale)))
        image = image.resize(size, Image.Resampling.BOX, reducing_gap=None)
    focal_35mm, halved = _notes(data)
    focal = focal_35mm / _FILM_DIAGONAL_MM * math.hypot(*image.size)
    shrunk = max(full) / max(image.size)
    return Pixels(np.asarray(image), focal, shrunk, _HALVED_COLOUR_PX / shrunk if halved else 0.0)


# What damaged notes were seen to make the library raise.
_NOTE_TROUBLE = (
    *(OSError, SyntaxError, ValueError, LookupError, TypeError, AttributeError),
    *(ArithmeticError, RuntimeError, struct.error),
)


def _notes(data: bytes) -> tuple[float, bool]:
    """
    The focal length as if on 35 mm film, 0 if not noted, and whether colour has fewer pixels.

    HEIC, which Pillow does not open, always has fewer.
    """
    from PIL import Image, JpegImagePlugin, UnidentifiedImageError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(BytesIO(data)) as image:
                halved = image.format == "JPEG" and JpegImagePlugin.get_sampling(image) in (1, 2)
                value = _focal_note(image)
    except UnidentifiedImageError:
        return 0.0, True
    except _NOTE_TROUBLE:
        # The pixels were sound; damaged notes beside them are as good as none.
        return 0.0, True
    return (value if 8.0 <= value <= 400.0 else 0.0), halved


def _focal_note(image: Image.Image) -> float:
    value = image.getexif().get_ifd(_TAG_EXIF_IFD).get(_TAG_FOCAL_35MM, 0)
    return float(value)


def linear_levels() -> NDArray[np.float32]:
    """Light, 0 to 1, of each 8-bit level of sRGB (IEC 61966-2-1, from memory)."""
    import numpy as np

    level = np.arange(256) / 255
    light = np.where(level <= 0.04045, level / 12.92, ((level + 0.055) / 1.055) ** 2.4)
    return light.astype(np.float32)


def code_light(light: NDArray[np.float64]) -> NDArray[np.float64]:
    """Levels of sRGB, 0 to 1, of linear light."""
    import numpy as np

    light = np.clip(light, 0, 1)
    return np.where(light <= 0.0031308, light * 12.92, 1.055 * light ** (1 / 2.4) - 0.055)


def decode_levels(level: NDArray[np.float64]) -> NDArray[np.float64]:
    """Linear light of levels of sRGB, 0 to 1."""
    import numpy as np

    level = np.clip(level, 0, 1)
    return np.where(level <= 0.04045, level / 12.92, ((level + 0.055) / 1.055) ** 2.4)
