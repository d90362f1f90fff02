"""
Photos made ready for paper: upright, no finer than print needs, and without hidden particulars.

A photo file carries more than its pixels: a phone writes the place where it was taken. What is
printed is drawn anew from the pixels alone.
"""

from __future__ import annotations

import io
import re
import struct
import warnings
import zlib

from salvage.errors import BadFile

MOST_PIXELS = 80_000_000
"""Largest picture that is opened."""

_PRINT_DPI = 300
_JPEG_QUALITY = 88
_GROUND_PX = 96

_START_OF_SCAN = 0xDA
# The library knows dozens of kinds, some of which it hands to other programs.
_KINDS = ("JPEG", "PNG", "TIFF", "WEBP", "HEIF")

# What damaged files were seen to make the decoders raise.
_DECODER_ERRORS = (
    *(OSError, SyntaxError, ValueError, TypeError, AttributeError, AssertionError, EOFError),
    *(LookupError, ArithmeticError, RuntimeError, MemoryError, struct.error, zlib.error),
)

_FRAMES = frozenset({0xC0, 0xC1, 0xC2})
# JFIF, tables, frames and scans; neither EXIF (APP1) nor any other application's data or comment.
_PLAIN_MARKERS = frozenset({0xE0, 0xDB, 0xC4, 0xDD, _START_OF_SCAN}) | _FRAMES


def print_picture(data: bytes, *, longest_mm: float) -> bytes:
    """
    A JPEG of at most 300 dpi at the size it is printed.

    Args:
        data: JPEG, PNG, WebP or HEIC bytes; the EXIF orientation is applied, transparent parts
            become white.
        longest_mm: Longer side on paper.

    Raises:
        BadFile: If the bytes are no picture, or it is cut short or too large.
    """
    import pi_heif
    from PIL import Image, ImageOps

    pi_heif.register_heif_opener()
    longest = round(longest_mm / 25.4 * _PRINT_DPI)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(io.BytesIO(data), formats=_KINDS) as opened:
                layers = 4 if opened.has_transparency_data else 1
                if opened.width * opened.height * layers > MOST_PIXELS:
                    raise _too_large()
                opened.draft("RGB", (longest, longest))
                upright = ImageOps.exif_transpose(opened).convert("RGBA")
    except Image.DecompressionBombError:
        raise _too_large() from None
    except _DECODER_ERRORS:
        raise BadFile(
            "this is not a picture that can be printed",
            hint="give a whole JPEG, PNG, WebP or HEIC file",
        ) from None
    upright.thumbnail((longest, longest))
    paper = Image.new("RGB", upright.size, "white")
    paper.paste(upright, mask=upright)
    file = io.BytesIO()
    paper.save(file, format="JPEG", quality=_JPEG_QUALITY, subsampling=0)
    return file.getvalue()


def plain_jpeg_size(data: bytes) -> tuple[int, int] | None:
    """
    Width and height of a JPEG that holds nothing but pixels; None for anything else.

    A JPEG with EXIF, comments or other such segments is not plain, and must be drawn anew. Markers
    are those of ITU-T T.81, table B.1.

    >>> plain_jpeg_size(b"no picture") is None
    True
    """
    if data[:2] != b"\xff\xd8":
        return None
    at, size = 2, None
    while at + 4 <= len(data) and data[at] == 0xFF:
        marker, length = data[at + 1], int.from_bytes(data[at + 2 : at + 4], "big")
        if marker not in _PLAIN_MARKERS:
            return None
        if marker == _START_OF_SCAN:
            return size
        if marker in _FRAMES:
            high, wide = (int.from_bytes(data[at + n : at + n + 2], "big") for n in (5, 7))
            size = (wide, high)
        at += 2 + length
    return None


def blurred_jpeg(jpeg: bytes) -> bytes:
    """A small picture of a photo's colours, without its shapes, to stand behind it."""
    from PIL import Image, ImageFilter

    with Image.open(io.BytesIO(jpeg)) as opened:
        opened.draft("RGB", (_GROUND_PX, _GROUND_PX))
        ground = opened.convert("RGB")
    ground.thumbnail((_GROUND_PX, _GROUND_PX))
    file = io.BytesIO()
    ground.filter(ImageFilter.GaussianBlur(_GROUND_PX / 12)).save(file, format="JPEG", quality=85)
    return file.getvalue()


def svg_modules(svg: str) -> tuple[int, int]:
    """
    Width and height of a symbol's picture in modules, from its ``viewBox``.

    Raises:
        BadFile: If it has no ``viewBox`` in whole modules that starts at the origin.

    >>> svg_modules('<svg viewBox="0 0 29 29"></svg>')
    (29, 29)
    """
    match = re.search(r'<svg[^>]*\sviewBox="0 0 ([0-9]{1,4}) ([0-9]{1,4})"', svg)
    if not match or "0" in (match[1], match[2]):
        raise BadFile("the picture of the code has no size in modules")
    return int(match[1]), int(match[2])


def _too_large() -> BadFile:
    return BadFile(
        f"the picture has more than {MOST_PIXELS // 1_000_000} million pixels",
        hint="make it smaller",
    )
