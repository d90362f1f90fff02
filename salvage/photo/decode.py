"""
From a picture's bytes to its pixels, upright, or one clear refusal.

The bytes may come from a stranger's phone or from someone who means harm, so the kind is told from
the first bytes, only that kind's decoder is tried, and the size in the header is looked at before a
single pixel is decoded. Whatever a decoder raises ends as :class:`salvage.errors.BadFile`.
"""

from __future__ import annotations

import struct
import warnings
import zlib
from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING

from salvage.errors import BadFile, MissingTool
from salvage.heif import has_plain_items
from salvage.photo.kinds import HEIF_KINDS, check_kind

if TYPE_CHECKING:
    from PIL import Image

MOST_PIXELS = 100_000_000
"""Pixels of the largest picture: the largest that phones make today, and 400 MB when decoded."""

MOST_CLEAR_PIXELS = 25_000_000
"""Pixels of the largest see-through picture: no camera makes them, and each is held many times."""

MOST_BYTES = 60_000_000
"""Bytes of the largest file: a phone's largest picture in its least packed form."""

# EXIF 2.32 (CIPA DC-008-2019), tables 4 and 7 (from memory).
_TAG_ORIENTATION = 0x0112
_TAG_EXIF_IFD = 0x8769
_TAG_TAKEN_AT = 0x9003

# TIFF tag that only raw files of cameras carry (Adobe DNG 1.4, DNGVersion; from memory).
_TAG_CAMERA_RAW = 50706

# What damaged files were seen to make the decoders raise; a picture's own bytes choose among them.
_DECODER_ERRORS = (
    OSError,
    SyntaxError,
    ValueError,
    TypeError,
    AttributeError,
    AssertionError,
    EOFError,
    LookupError,
    ArithmeticError,
    RuntimeError,
    MemoryError,
    struct.error,
    zlib.error,
)


@dataclass(frozen=True, slots=True)
class Picture:
    """
    A decoded picture.

    Args:
        image: The pixels, turned upright, in the mode of the file.
        media_type: Such as ``image/jpeg``.
        exif_taken_at: The text of EXIF DateTimeOriginal as it stands in the file; may be rubbish.
    """

    image: Image.Image
    media_type: str
    exif_taken_at: str


def read_picture(data: bytes, *, name: str = "picture", longest_px: int = 0) -> Picture:
    """
    The picture in *data*, decoded to its last byte and turned upright.

    Args:
        data: Bytes of a JPEG, PNG, HEIC or HEIF, TIFF or WebP file; they are never changed.
        name: What to call the file in an error.
        longest_px: Where the caller will shrink to this, a JPEG is decoded in fewer pixels, though
            never in fewer than this; 0 for all of them.

    Raises:
        BadFile: If the file is empty, no picture, of another kind, animated, cut short, damaged or
            too large.
        MissingTool: If the decoder for HEIC is not on this machine.
    """
    from PIL import Image

    _check_bytes(data, name)
    media_type = check_kind(data, name)
    # Decoders warn of odd metadata; the journal of a workshop has no use for it. This changes the
    # filters of the whole process for a moment, which is harmless.
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            image = _open(data, media_type, name)
            _check_header(image, media_type, name)
            _load(image, longest_px)
            _check_size(image.size, name)
        except Image.DecompressionBombError:
            raise _too_many_pixels(name) from None
        except _DECODER_ERRORS as trouble:
            raise BadFile(
                f"{name} is cut short or damaged ({_one_line(trouble)})",
                hint="copy it from the phone or camera once more",
            ) from None
        upright, taken_at = _turn_upright(image)
    return Picture(upright, media_type, taken_at)


def _check_bytes(data: bytes, name: str) -> None:
    if not data:
        raise BadFile(f"{name} is empty", hint="copy it from the phone or camera once more")
    if len(data) > MOST_BYTES:
        raise BadFile(
            f"{name} has {len(data) / 1e6:.0f} MB", hint=f"at most {MOST_BYTES / 1e6:.0f} MB"
        )


def _open(data: bytes, media_type: str, name: str) -> Image.Image:
    from PIL import Image

    if media_type not in HEIF_KINDS:
        return Image.open(BytesIO(data), formats=(media_type.removeprefix("image/").upper(),))
    try:
        import pi_heif
    except ImportError:
        raise MissingTool(
            f"{name} is an HEIC picture, and the package pi-heif is not on this machine",
            hint="install pi-heif, or save the picture as JPEG",
        ) from None
    if not has_plain_items(data):
        raise ValueError("an item without a name")
    heif = pi_heif.open_heif(data)
    _check_size(heif.size, name)
    image: Image.Image = heif.to_pillow()
    return image


def _check_header(image: Image.Image, media_type: str, name: str) -> None:
    _check_size(image.size, name)
    if image.has_transparency_data and image.width * image.height > MOST_CLEAR_PIXELS:
        raise BadFile(
            f"{name} is see-through and has more than {MOST_CLEAR_PIXELS // 1_000_000} million"
            " pixels",
            hint="save it smaller, or without transparency",
        )
    # A JPEG with several pictures is a photo with a preview or a depth map: the first is the photo.
    if media_type not in {"image/jpeg", *HEIF_KINDS} and getattr(image, "is_animated", False):
        raise BadFile(f"{name} holds several pictures or moves", hint="save one still picture")
    if _TAG_CAMERA_RAW in getattr(image, "tag_v2", {}):
        raise BadFile(f"{name} is a camera's raw file", hint="export it as JPEG or TIFF")


def _load(image: Image.Image, longest_px: int) -> None:
    if longest_px:
        image.draft(None, (longest_px, longest_px))
    image.load()


def _check_size(size: tuple[int, int], name: str) -> None:
    if size[0] * size[1] > MOST_PIXELS:
        raise _too_many_pixels(name)


def _too_many_pixels(name: str) -> BadFile:
    return BadFile(
        f"{name} has more than {MOST_PIXELS // 1_000_000} million pixels",
        hint="save it smaller; 2000 pixels along the longer side are plenty",
    )


def _turn_upright(image: Image.Image) -> tuple[Image.Image, str]:
    from PIL import Image

    try:
        exif = image.getexif()
        orientation = exif.get(_TAG_ORIENTATION, 1)
        taken_at = exif.get_ifd(_TAG_EXIF_IFD).get(_TAG_TAKEN_AT, "")
    except _DECODER_ERRORS:
        # Damaged notes about a sound picture do not make the picture useless.
        return image, ""
    turns = {
        2: Image.Transpose.FLIP_LEFT_RIGHT,
        3: Image.Transpose.ROTATE_180,
        4: Image.Transpose.FLIP_TOP_BOTTOM,
        5: Image.Transpose.TRANSPOSE,
        6: Image.Transpose.ROTATE_270,
        7: Image.Transpose.TRANSVERSE,
        8: Image.Transpose.ROTATE_90,
    }
    turn = turns.get(orientation) if isinstance(orientation, int) else None
    return (image if turn is None else image.transpose(turn)), str(taken_at)


def _one_line(trouble: BaseException) -> str:
    words = " ".join(str(trouble).split()) or type(trouble).__name__
    shown = "".join(letter for letter in words if letter.isprintable())
    return shown if len(shown) <= 80 else shown[:79] + "…"
