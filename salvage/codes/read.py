"""
Codes found in a picture, by two readers that do not know of one another.

The first reader, zxing-cpp, sees all our symbols; the second, pyzbar, sees QR codes and Code 128
and finds some dirty or glared ones that the first misses. Where both say the same, there is one
reading; where they differ, both readings are given and whoever asked decides.
"""

from __future__ import annotations

import io
import struct
import sys
import warnings
from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING

from salvage.codes.reading import Corners, PictureCodes, Reading, same_place
from salvage.errors import BadFile

if TYPE_CHECKING:
    from PIL.Image import Image

MOST_PIXELS = 80_000_000
"""Largest picture that is opened; the 50-megapixel mode of some phones fits."""

# A picture of this size is enlarged at most; above it the pixels are fine enough already.
_MOST_ENLARGED_PIXELS = 30_000_000
_ENLARGEMENT = 1.5  # the best single second try for small modules, measured on synthetic photos

_FORMATS = "QRCode|DataMatrix|Code128|MicroQRCode"
_NAMES = {"QRCode": "QR", "MicroQRCode": "Micro QR", "DataMatrix": "Data Matrix"}
_NAMES |= {"Code128": "Code 128", "QRCODE": "QR", "CODE128": "Code 128"}


def read_codes(data: bytes) -> tuple[Reading, ...]:
    """
    Every code in a picture, each text once, from top to bottom.

    Args:
        data: Bytes of a photo or scan; its EXIF orientation is applied.

    Raises:
        BadFile: If the bytes are no picture, or it is cut short or too large.
    """
    picture = _open_gray(data)
    found = _read_once(picture)
    enlarged_size = (round(picture.width * _ENLARGEMENT), round(picture.height * _ENLARGEMENT))
    if not found and enlarged_size[0] * enlarged_size[1] <= _MOST_ENLARGED_PIXELS:
        found = [_shrunk(reading) for reading in _read_once(picture.resize(enlarged_size))]
    return tuple(sorted(found, key=lambda reading: min(y for _, y in reading.corners_px)))


def read_picture(data: bytes) -> PictureCodes:
    """
    Codes of ours in a picture, other texts, doubtful readings and labels that stayed unread.

    Args:
        data: Bytes of a photo or scan; its EXIF orientation is applied.

    Raises:
        BadFile: If the bytes are no picture, or it is cut short or too large.
    """
    picture = _open_gray(data)
    found = read_codes(data)
    doubtful = tuple(
        one
        for one in found
        if any(o.text != one.text and same_place(o.corners_px, one.corners_px) for o in found)
    )
    sure = [one for one in found if one not in doubtful]
    return PictureCodes(
        picture.width,
        picture.height,
        codes=tuple(one for one in sure if one.code),
        strangers=tuple(one for one in sure if not one.code),
        doubtful=doubtful,
    )


def missing_readers() -> tuple[str, ...]:
    """One line for each reader that does not run on this machine, with its mend."""
    if _second_reader_runs():
        return ()
    mend = "brew install zbar" if sys.platform == "darwin" else "apt-get install libzbar0"
    return (f"the second code reader (pyzbar) lacks the zbar library; {mend}",)


def _second_reader_runs() -> bool:
    try:
        import pyzbar.pyzbar  # noqa: F401
    except (ImportError, OSError):  # Windows reports a missing library as FileNotFoundError
        return False
    return True


def _read_once(picture: Image) -> list[Reading]:
    seen = _read_with_zxing(picture)
    if _second_reader_runs():
        seen += _read_with_zbar(picture)
    return _merge(seen)


def _read_with_zxing(picture: Image) -> list[Reading]:
    import zxingcpp

    formats = zxingcpp.barcode_formats_from_str(_FORMATS)
    pixels = memoryview(picture.tobytes()).cast("B", shape=[picture.height, picture.width])
    readings = []
    for barcode in zxingcpp.read_barcodes(pixels, formats=formats):
        place = barcode.position
        corners = (place.top_left, place.top_right, place.bottom_right, place.bottom_left)
        readings.append(
            Reading(
                barcode.text,
                _NAMES.get(barcode.format.name, barcode.format.name),
                tuple((point.x, point.y) for point in corners),
                "zxing-cpp",
            )
        )
    return readings


def _read_with_zbar(picture: Image) -> list[Reading]:
    from pyzbar.pyzbar import ZBarSymbol, decode

    # Only these two: with others switched on, zbar prints warnings and can stop the program.
    symbols = [ZBarSymbol.QRCODE, ZBarSymbol.CODE128]
    size = (picture.tobytes(), picture.width, picture.height)
    return [
        Reading(
            found.data.decode("utf-8", "replace"),
            _NAMES[found.type],
            tuple((point.x, point.y) for point in found.polygon) or _box(found.rect),
            "pyzbar",
        )
        for found in decode(size, symbols=symbols)
    ]


def _box(rect: tuple[int, int, int, int]) -> Corners:
    left, top, width, height = rect
    right, bottom = left + width, top + height
    return ((left, top), (right, top), (right, bottom), (left, bottom))


def _merge(readings: Iterable[Reading]) -> list[Reading]:
    by_text: dict[str, Reading] = {}
    for reading in readings:
        first = by_text.setdefault(reading.text, reading)
        if reading.reader not in first.reader:
            by_text[reading.text] = replace(first, reader=f"{first.reader} + {reading.reader}")
    return [reading for reading in by_text.values() if reading.text]


def _shrunk(reading: Reading) -> Reading:
    corners = ((round(x / _ENLARGEMENT), round(y / _ENLARGEMENT)) for x, y in reading.corners_px)
    return replace(reading, corners_px=tuple(corners))


def _open_gray(data: bytes) -> Image:
    from PIL import Image, ImageOps

    _know_phone_pictures()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(io.BytesIO(data)) as opened:
                _check_size(opened.width, opened.height)
                opened.draft("L", None)
                upright = ImageOps.exif_transpose(opened)
                return _on_white(upright)
    except Image.DecompressionBombError:
        raise _too_large() from None
    except (OSError, SyntaxError, ValueError, TypeError, struct.error):
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
        return picture.convert("L")
    clear = picture.convert("RGBA")
    ground = Image.new("RGBA", clear.size, "white")
    ground.alpha_composite(clear)
    return ground.convert("L")


def _know_phone_pictures() -> None:
    """Teach the picture library HEIC, which phones write; calling it twice is harmless."""
    import pi_heif

    pi_heif.register_heif_opener()
