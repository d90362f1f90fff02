"""
A photo at the door: what it is, how large, when it was taken, or why it is not taken in.

Others keep the original byte for byte; nothing here changes it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from salvage.photo.decode import read_picture


@dataclass(frozen=True, slots=True)
class PhotoFacts:
    """
    What a photo says of itself.

    Args:
        media_type: ``image/jpeg``, ``image/png``, ``image/heic``, ``image/heif``, ``image/tiff`` or
            ``image/webp``, told from the bytes.
        width_px: Width once the picture is turned upright.
        height_px: Height once the picture is turned upright.
        byte_count: Length of the file.
        taken_at: ``2026-05-04 09:41:07`` by the camera's own clock, whose time zone nobody knows;
            empty where the camera did not say.
    """

    media_type: str
    width_px: int
    height_px: int
    byte_count: int
    taken_at: str


def inspect_photo(data: bytes, *, name: str) -> PhotoFacts:
    """
    Facts about a photo that decodes to its last byte.

    Args:
        data: Bytes of a JPEG, PNG, HEIC or HEIF, TIFF or WebP file.
        name: The file's name, for an error.

    Raises:
        BadFile: If the file is empty, no picture, of another kind, animated, cut short, damaged,
            over 60 MB or over 100 million pixels. The size is read from the header, so a small
            file that would unpack to gigabytes is refused before it does.
        MissingTool: If the decoder for HEIC is not on this machine.
    """
    picture = read_picture(data, name=name)
    width_px, height_px = picture.image.size
    return PhotoFacts(
        media_type=picture.media_type,
        width_px=width_px,
        height_px=height_px,
        byte_count=len(data),
        taken_at=_format_taken_at(picture.exif_taken_at),
    )


def _format_taken_at(exif_text: str) -> str:
    # EXIF 2.32, 4.6.5: "YYYY:MM:DD HH:MM:SS"; a camera without a clock leaves blanks or noughts.
    try:
        moment = datetime.strptime(exif_text.strip("\0 "), "%Y:%m:%d %H:%M:%S")
    except ValueError:
        return ""
    return f"{moment:%Y-%m-%d %H:%M:%S}"
