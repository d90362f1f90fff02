"""Photos for tests: as a phone gives them, with where and when they were taken."""

from __future__ import annotations

import io

from PIL import Image, ImageDraw

MARK = "phone of Ilva Brandt"
"""What the phone writes into every picture of its own accord."""


def phone_jpeg(*, turned: bool = True) -> bytes:
    """
    A JPEG of 400 x 300 pixels lying on its side, with GPS, time and owner in its EXIF.

    Args:
        turned: With the note to turn it by a quarter (EXIF orientation 6), so that upright it is
            300 wide and 400 high; its upper left corner is then red.
    """
    image = Image.new("RGB", (400, 300), (30, 90, 60))
    pen = ImageDraw.Draw(image)
    # Orientation 6: the stored lower left corner is the upper left of the upright picture.
    pen.rectangle((0, 240, 60, 299), fill=(220, 20, 20))
    exif = Image.Exif()
    exif[0x0112] = 6 if turned else 1
    exif[0x013B] = MARK
    exif.get_ifd(0x8769)[0x9003] = "2026:05:03 10:11:12"
    gps = exif.get_ifd(0x8825)
    gps[1], gps[2] = "N", (54.0, 20.0, 11.0)
    gps[3], gps[4] = "W", (9.0, 8.0, 7.0)
    out = io.BytesIO()
    image.save(out, "JPEG", exif=exif, quality=90)
    return out.getvalue()


def bomb_png() -> bytes:
    """A PNG of a few kilobytes that would unpack to 900 million pixels."""
    out = io.BytesIO()
    Image.new("1", (30_000, 30_000)).save(out, "PNG")
    return out.getvalue()
