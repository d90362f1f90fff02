"""
Copies of a photo to show and to print: upright, in sRGB, and with nothing but pixels.

A phone writes where a photo was taken into the file. These copies are built anew from the pixels
alone, so no place, name, date, serial number or comment can leave with them.
"""

from __future__ import annotations

from io import BytesIO
from typing import TYPE_CHECKING, cast

from salvage.errors import BadValue
from salvage.photo.decode import read_picture

if TYPE_CHECKING:
    from PIL import Image

JPEG_QUALITY = 88
"""Fine copper lines show no blocks at arm's length; common practice, no source."""

# ITU-T T.81, B.2.2: the size of a JPEG is written in 16 bits.
_LONGEST_SIDE_PX = 65_535

_WHITE = (255, 255, 255)


def upright_jpeg(data: bytes, *, longest_px: int) -> bytes:
    """
    The photo as an upright JPEG in sRGB without any metadata.

    Args:
        data: Bytes of any picture that :func:`salvage.photo.intake.inspect_photo` takes.
        longest_px: The longer side is shrunk to this; a smaller picture stays as it is.

    Raises:
        BadFile: If the picture cannot be used.
        BadValue: If *longest_px* is below 1 or above 65 535.
    """
    out = BytesIO()
    image = upright_image(data, longest_px=longest_px)
    image.save(out, "JPEG", quality=JPEG_QUALITY, optimize=True)
    return out.getvalue()


def upright_png(data: bytes, *, longest_px: int) -> bytes:
    """
    The photo as an upright PNG in sRGB without any metadata.

    Args:
        data: Bytes of any picture that :func:`salvage.photo.intake.inspect_photo` takes.
        longest_px: The longer side is shrunk to this; a smaller picture stays as it is.

    Raises:
        BadFile: If the picture cannot be used.
        BadValue: If *longest_px* is below 1 or above 65 535.
    """
    out = BytesIO()
    upright_image(data, longest_px=longest_px).save(out, "PNG")
    return out.getvalue()


def mirrored_png(data: bytes) -> bytes:
    """
    The photo mirrored left to right, as a PNG.

    Raises:
        BadFile: If the picture cannot be used.
    """
    from PIL import ImageOps

    out = BytesIO()
    ImageOps.mirror(upright_image(data, longest_px=_LONGEST_SIDE_PX)).save(out, "PNG")
    return out.getvalue()


def upright_image(data: bytes, *, longest_px: int) -> Image.Image:
    """
    The photo's pixels: upright, 8-bit sRGB, on white where it is see-through, free of metadata.

    Args:
        data: Bytes of any picture that is taken here.
        longest_px: The longer side is shrunk to this; a smaller picture stays as it is.

    Raises:
        BadFile: If the picture cannot be used.
        BadValue: If *longest_px* is below 1 or above 65 535.
    """
    from PIL import Image

    if not 1 <= longest_px <= _LONGEST_SIDE_PX:
        raise BadValue(f"{longest_px} pixels are out of range", hint="1 up to 65535")
    image = read_picture(data, longest_px=longest_px).image
    profile = image.info.get("icc_profile")
    colours = _flatten(_eight_bit(image), profile)
    scale = longest_px / max(colours.size)
    if scale < 1:
        width, height = (max(1, round(side * scale)) for side in colours.size)
        colours = colours.resize((width, height), Image.Resampling.LANCZOS, reducing_gap=3.0)
    # Pasted into a new picture, because Pillow carries comments and the like along in `info`.
    clean = Image.new("RGB", colours.size)
    clean.paste(colours)
    return clean


def _eight_bit(image: Image.Image) -> Image.Image:
    if image.mode.startswith("I;16"):
        # Pillow clips at 255 instead of scaling.
        return image.convert("I").point(lambda level: level * (1 / 257)).convert("L")
    if image.mode in {"I", "F"}:
        # A picture of one band, of whole or broken numbers, without a fixed white.
        darkest, brightest = cast("tuple[float, float]", image.getextrema())
        scale = 255 / ((brightest - darkest) or 1.0)
        return image.point(lambda level: level * scale + -darkest * scale).convert("L")
    return image


def _flatten(image: Image.Image, profile: object) -> Image.Image:
    from PIL import Image

    if not image.has_transparency_data:
        return _to_srgb(image, profile)
    layered = image.convert("RGBA")
    below = Image.new("RGB", layered.size, _WHITE)
    below.paste(_to_srgb(layered.convert("RGB"), profile), mask=layered.getchannel("A"))
    return below


def _to_srgb(image: Image.Image, profile: object) -> Image.Image:
    from PIL import Image, ImageCms

    if image.mode not in {"RGB", "CMYK", "L"}:
        image = image.convert("RGB")
    if isinstance(profile, bytes) and profile:
        try:
            given = ImageCms.ImageCmsProfile(BytesIO(profile))
            shown = ImageCms.profileToProfile(
                image, given, ImageCms.createProfile("sRGB"), outputMode="RGB"
            )
        except (ImageCms.PyCMSError, OSError, ValueError):
            # A profile that is damaged or of another kind of colour: the plain reading is close.
            shown = None
        if isinstance(shown, Image.Image):
            return shown
    return image.convert("RGB")
