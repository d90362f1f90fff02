"""A photo's bytes as gray pixels, upright, or one clear error."""

from __future__ import annotations

import io
import struct
import warnings
import zlib
from typing import TYPE_CHECKING

from salvage.errors import BadFile
from salvage.heif import has_plain_items

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt
    from PIL.Image import Image

MOST_PIXELS = 80_000_000
"""Largest picture that is opened; the 50-megapixel mode of some phones fits."""

# The library knows dozens of kinds, some of which it hands to other programs.
_KINDS = ("JPEG", "PNG", "TIFF", "WEBP", "HEIF", "GIF", "BMP")

# What damaged files were seen to make the decoders raise.
_DECODER_ERRORS = (
    *(OSError, SyntaxError, ValueError, TypeError, AttributeError, AssertionError, EOFError),
    *(LookupError, ArithmeticError, RuntimeError, MemoryError, struct.error, zlib.error),
)


def open_gray(data: bytes) -> npt.NDArray[np.uint8]:
    """
    Gray pixels of a photo or scan, rows by columns, turned as its EXIF orientation says.

    Raises:
        BadFile: If the bytes are no picture, or it is cut short or too large.
    """
    import numpy as np

    return np.asarray(_open(data), np.uint8)


def _open(data: bytes) -> Image:
    from PIL import Image, ImageOps

    _know_phone_pictures()
    try:
        if data[4:8] == b"ftyp" and not has_plain_items(data):
            raise ValueError("an item without a name")
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(io.BytesIO(data), formats=_KINDS) as opened:
                _check_size(opened.width, opened.height)
                if opened.has_transparency_data:  # held four times while it is laid on white
                    _check_size(4 * opened.width, opened.height)
                opened.draft("L", None)
                opened.load()
                ImageOps.exif_transpose(opened, in_place=True)
                return _on_white(opened)
    except Image.DecompressionBombError:
        raise _too_large() from None
    except _DECODER_ERRORS:
        raise BadFile(
            "this is not a picture that can be opened",
            hint="give a whole JPEG, PNG, WebP or HEIC file",
        ) from None


def _check_size(width: int, height: int) -> None:
    if width * height > MOST_PIXELS:
        raise _too_large()


def _too_large() -> BadFile:
    return BadFile(
        f"the picture has more than {MOST_PIXELS // 1_000_000} million pixels",
        hint="make it smaller",
    )


def _on_white(picture: Image) -> Image:
    """Gray picture; where it was transparent, white."""
    from PIL import Image

    if not picture.has_transparency_data:
        return picture.copy() if picture.mode == "L" else picture.convert("L")
    clear = picture.convert("RGBA")
    ground = Image.new("RGBA", clear.size, "white")
    ground.alpha_composite(clear)
    return ground.convert("L")


def _know_phone_pictures() -> None:
    """Teach the picture library HEIC, which phones write; calling it twice is harmless."""
    import pi_heif

    pi_heif.register_heif_opener()
