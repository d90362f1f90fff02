"""
Which kind of file the bytes are, told from the first of them and never from the name.

Signatures are those of the formats' own standards: PNG (ISO/IEC 15948, 5.2), JPEG (ITU-T T.81,
B.1.1.3), TIFF 6.0 (section 2), WebP (RFC 9649, section 2), HEIF (ISO/IEC 23008-12, annex B); all
from memory.
"""

from __future__ import annotations

from salvage.errors import BadFile

HEIF_KINDS = frozenset({"image/heic", "image/heif"})
"""Media types that the HEIF decoder reads."""

KINDS_IN_WORDS = "JPEG, PNG, HEIC, TIFF or WebP"
"""The kinds that are taken, for a hint."""

_SIGNATURES = (
    (b"\xff\xd8\xff", "image/jpeg"),
    (b"\x89PNG\r\n\x1a\n", "image/png"),
    (b"II*\0", "image/tiff"),
    (b"MM\0*", "image/tiff"),
    (b"II+\0", "image/tiff"),
    (b"MM\0+", "image/tiff"),
)

# Brands of ISO base media files: HEVC pictures, and the general ones, which may hold anything.
_HEIF_BRANDS = {
    b"heic": "image/heic",
    b"heix": "image/heic",
    b"heim": "image/heic",
    b"heis": "image/heic",
    b"mif1": "image/heif",
}

# Files that people do try, so that the refusal can name them.
_OTHERS = (
    (b"GIF8", "a GIF"),
    (b"BM", "a BMP bitmap"),
    (b"%PDF", "a PDF"),
    (b"<svg", "an SVG drawing"),
    (b"<?xml", "an XML or SVG file"),
    (b"PK\x03\x04", "a ZIP or office file"),
    (b"\0\0\x01\0", "an icon"),
    (b"8BPS", "an image editor's file"),
)


def check_kind(data: bytes, name: str) -> str:
    """
    The media type of a picture that is taken here.

    Args:
        data: The file, or at least its first 32 bytes.
        name: What to call the file in an error.

    Raises:
        BadFile: If it is another kind of file, or no picture at all.

    >>> check_kind(bytes([137]) + b"PNG" + bytes([13, 10, 26, 10]), "front.png")
    'image/png'
    """
    for signature, media_type in _SIGNATURES:
        if data.startswith(signature):
            return media_type
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "image/webp"
    if data[4:8] == b"ftyp":
        return _check_brand(data[8:12], name)
    for signature, word in _OTHERS:
        if data.startswith(signature):
            raise BadFile(f"{name} is {word}, not a photo", hint=f"save it as {KINDS_IN_WORDS}")
    raise BadFile(f"{name} is not a picture", hint=f"a photo is {KINDS_IN_WORDS}")


def _check_brand(brand: bytes, name: str) -> str:
    if brand in _HEIF_BRANDS:
        return _HEIF_BRANDS[brand]
    word = "an AVIF picture" if brand in {b"avif", b"avis"} else "a film"
    raise BadFile(f"{name} is {word}, not a photo", hint=f"save it as {KINDS_IN_WORDS}")
