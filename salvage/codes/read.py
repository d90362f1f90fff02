"""
Codes found in a picture: one call from a photo's bytes to texts and their places.

Two readers that do not know of one another are asked in a cascade, cheap steps first. Where they
differ, both readings are given as doubtful, and whoever asked decides.
"""

from __future__ import annotations

import sys

from salvage.codes.cascade import read_pixels
from salvage.codes.picture import open_gray
from salvage.codes.reading import PictureCodes, Reading
from salvage.codes.zbar import second_reader


def read_picture(data: bytes) -> PictureCodes:
    """
    Codes of ours in a picture, other texts, doubtful readings and labels that stayed unread.

    Args:
        data: Bytes of a photo or scan; its EXIF orientation is applied.

    Raises:
        BadFile: If the bytes are no picture, or it is cut short or too large.
    """
    return read_pixels(open_gray(data), second_reader())


def read_codes(data: bytes) -> tuple[Reading, ...]:
    """
    Every text in a picture, ours or not, each once, from top to bottom; doubtful ones too.

    Args:
        data: Bytes of a photo or scan; its EXIF orientation is applied.

    Raises:
        BadFile: If the bytes are no picture, or it is cut short or too large.
    """
    seen = read_picture(data)
    by_text: dict[str, Reading] = {}
    for reading in (*seen.codes, *seen.strangers, *seen.doubtful):
        by_text.setdefault(reading.text, reading)
    return tuple(sorted(by_text.values(), key=lambda one: min(y for _, y in one.corners_px)))


def missing_readers() -> tuple[str, ...]:
    """One line for each reader that does not run on this machine, with its mend."""
    if second_reader().runs:
        return ()
    mend = "brew install zbar" if sys.platform == "darwin" else "apt-get install libzbar0"
    return (f"the second code reader (pyzbar) lacks the zbar library; {mend}",)
