from __future__ import annotations

import struct
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from PIL import Image, ImageCms, PngImagePlugin

from salvage.errors import BadFile, BadValue
from salvage.photo.upright import upright_jpeg, upright_png

if TYPE_CHECKING:
    from collections.abc import Callable

_PICTURES = Path(__file__).parent / "pictures"

# What must not leave the workshop, in every spelling a file may use.
_SECRETS = (b"Exif", b"GPS", b"Tern Street", b"SERIAL-4711", b"2026:05:04", b"xmp", b"ICC_PROFILE")


def _flag(size: tuple[int, int] = (80, 60)) -> Image.Image:
    """Green, red in the upper left corner."""
    image = Image.new("RGB", size, (20, 120, 60))
    image.paste((220, 40, 30), (0, 0, size[0] // 4, size[1] // 4))
    return image


def _telling_exif() -> bytes:
    exif = Image.Exif()
    exif[0x010F] = "SERIAL-4711"
    exif.get_ifd(0x8769)[0x9003] = "2026:05:04 09:41:07"
    # GPS tags (EXIF 2.32, table 15, from memory): latitude, longitude and the name of the area.
    exif.get_ifd(0x8825).update(
        {1: "N", 2: (51.0, 30.0, 12.5), 3: "W", 4: (4.0, 10.0, 59.25), 28: b"Tern Street"}
    )
    return exif.tobytes()


def _saved(image: Image.Image, kind: str, **options: object) -> bytes:
    out = BytesIO()
    image.save(out, kind, **options)
    return out.getvalue()


def _opened(data: bytes) -> Image.Image:
    return Image.open(BytesIO(data))


@pytest.mark.parametrize("draw", [upright_jpeg, upright_png])
def test_no_place_and_no_name_leaves_with_a_copy(draw: Callable[..., bytes]) -> None:
    """A photo taken at a donor's home must not tell where that home is."""
    photo = _saved(
        _flag(),
        "JPEG",
        exif=_telling_exif(),
        comment=b"Tern Street 4",
        xmp=b"<x:xmpmeta>Tern Street</x:xmpmeta>",
        icc_profile=ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes(),
    )
    told = [secret for secret in _SECRETS if secret in photo]

    copy = draw(photo, longest_px=200)

    assert len(told) >= 4
    assert [secret for secret in _SECRETS if secret in copy] == []
    assert _opened(copy).getexif() == {}
    assert set(_opened(copy).info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}


def test_no_text_of_a_png_leaves_with_a_copy() -> None:
    """Screenshots and edited pictures carry text, too."""
    text = PngImagePlugin.PngInfo()
    text.add_itxt("Comment", "Tern Street 4")
    text.add_text("Author", "SERIAL-4711")
    picture = _saved(_flag(), "PNG", pnginfo=text, exif=_telling_exif(), dpi=(96, 96))

    copy = upright_png(picture, longest_px=200)

    assert b"Tern Street" in picture
    assert [secret for secret in _SECRETS if secret in copy] == []
    assert _opened(copy).info == {}


@pytest.mark.parametrize("orientation", [1, 2, 3, 4, 5, 6, 7, 8])
def test_every_orientation_comes_out_upright(orientation: int) -> None:
    """Red stays at the upper left, however the phone was held (EXIF 2.32, table 4, from memory)."""
    # How a camera stores the scene for each orientation: the inverse of what a viewer must do.
    stored = {
        1: _flag(),
        2: _flag().transpose(Image.Transpose.FLIP_LEFT_RIGHT),
        3: _flag().transpose(Image.Transpose.ROTATE_180),
        4: _flag().transpose(Image.Transpose.FLIP_TOP_BOTTOM),
        5: _flag().transpose(Image.Transpose.TRANSPOSE),
        6: _flag().transpose(Image.Transpose.ROTATE_90),
        7: _flag().transpose(Image.Transpose.TRANSVERSE),
        8: _flag().transpose(Image.Transpose.ROTATE_270),
    }[orientation]
    exif = Image.Exif()
    exif[0x0112] = orientation

    copy = _opened(upright_png(_saved(stored, "PNG", exif=exif), longest_px=500))

    assert copy.size == (80, 60)
    assert copy.tobytes() == _flag().tobytes()


def test_a_phones_heic_comes_out_as_jpeg() -> None:
    """A web page cannot show HEIC everywhere."""
    copy = _opened(upright_jpeg((_PICTURES / "turned.heic").read_bytes(), longest_px=500))

    red, green, blue = copy.getpixel((4, 4))  # type: ignore[misc]
    assert (copy.format, copy.size) == ("JPEG", (64, 48))
    assert red > 180
    assert max(green, blue) < 80


@pytest.mark.parametrize(
    ("longest_px", "size"), [(40, (40, 30)), (80, (80, 60)), (1000, (80, 60)), (1, (1, 1))]
)
def test_a_copy_is_shrunk_but_never_blown_up(longest_px: int, size: tuple[int, int]) -> None:
    """A copy is as large as asked at most, in the shape of the photo."""
    assert _opened(upright_jpeg(_saved(_flag(), "JPEG"), longest_px=longest_px)).size == size


def test_the_same_photo_gives_the_same_bytes() -> None:
    """Copies are kept by their hash, so drawing twice must not make two."""
    photo = _saved(Image.effect_noise((400, 300), 60).convert("RGB"), "JPEG")

    assert upright_jpeg(photo, longest_px=150) == upright_jpeg(photo, longest_px=150)
    assert upright_png(photo, longest_px=150) == upright_png(photo, longest_px=150)


def _display_p3() -> bytes:
    """
    A small ICC profile (ICC.1:2001-04, from memory) with the primaries of Display P3.

    The primaries, adapted to D50, are those published for Display P3 (SMPTE EG 432-1 primaries,
    D65 white; from memory); the curve is that of sRGB (IEC 61966-2-1).
    """

    def xyz(*values: float) -> bytes:
        return b"XYZ \0\0\0\0" + struct.pack(">3i", *(round(v * 65536) for v in values))

    def linear(level: float) -> float:
        return level / 12.92 if level <= 0.04045 else ((level + 0.055) / 1.055) ** 2.4

    curve = [round(65535 * linear(step / 1023)) for step in range(1024)]
    tone = b"curv\0\0\0\0" + struct.pack(">I1024H", 1024, *curve)
    tags = {
        b"wtpt": xyz(0.9642, 1.0, 0.8249),
        b"rXYZ": xyz(0.51512, 0.2412, -0.00105),
        b"gXYZ": xyz(0.29198, 0.69225, 0.04189),
        b"bXYZ": xyz(0.1571, 0.06657, 0.78407),
        b"rTRC": tone,
        b"gTRC": tone,
        b"bTRC": tone,
    }
    table, body = struct.pack(">I", len(tags)), b""
    for name, tag in tags.items():
        table += name + struct.pack(">II", 128 + 4 + 12 * len(tags) + len(body), len(tag))
        body += tag
    header = bytes(4) + bytes(4) + b"\x02\x40\0\0mntrRGB XYZ " + bytes(12) + b"acsp"
    header += bytes(28) + struct.pack(">3i", 63190, 65536, 54061)
    size = 128 + len(table) + len(body)
    return struct.pack(">I", size) + header[4:].ljust(124, b"\0") + table + body


def test_colours_of_a_phones_wide_gamut_become_srgb() -> None:
    """Pure sRGB red is (234, 51, 35) in Display P3: published conversion, from memory."""
    wide = _saved(Image.new("RGB", (8, 8), (234, 51, 35)), "PNG", icc_profile=_display_p3())

    red = _opened(upright_png(wide, longest_px=8)).getpixel((4, 4))

    assert isinstance(red, tuple)
    assert max(abs(seen - true) for seen, true in zip(red, (255, 0, 0), strict=True)) <= 6


def test_a_damaged_profile_is_left_aside() -> None:
    """A bad colour profile must not cost the photo."""
    photo = _saved(_flag(), "JPEG", icc_profile=b"no profile at all" * 20, quality=95)

    red, _, _ = _opened(upright_png(photo, longest_px=80)).getpixel((4, 4))  # type: ignore[misc]

    assert abs(red - 220) < 6


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGBA", "CMYK", "I;16", "I", "F"])
def test_every_mode_of_picture_becomes_plain_rgb(mode: str) -> None:
    """Scanners write greys, editors write layers with see-through parts."""
    kind = "TIFF" if mode in {"CMYK", "I", "F"} else "PNG"
    grey = Image.linear_gradient("L")
    picture = grey.convert("I;16") if mode == "I;16" else grey.convert(mode)
    if mode == "I;16":
        picture = grey.convert("I").point(lambda level: level * 257).convert("I;16")

    copy = _opened(upright_png(_saved(picture, kind), longest_px=256))

    dark, light = copy.getpixel((128, 4)), copy.getpixel((128, 251))
    assert (copy.mode, copy.size) == ("RGB", (256, 256))
    assert isinstance(dark, tuple)
    assert isinstance(light, tuple)
    assert max(dark) < 24
    assert min(light) > 232


def test_see_through_parts_turn_white() -> None:
    """On paper, nothing is white."""
    glass = _saved(Image.new("RGBA", (10, 10), (255, 0, 0, 0)), "PNG")

    assert _opened(upright_png(glass, longest_px=10)).getpixel((5, 5)) == (255, 255, 255)


@pytest.mark.parametrize("longest_px", [0, -5, 70_000])
def test_a_senseless_size_is_refused(longest_px: int) -> None:
    """A JPEG side has 16 bits (ITU-T T.81, B.2.2, from memory)."""
    with pytest.raises(BadValue, match="out of range"):
        upright_jpeg(_saved(_flag(), "JPEG"), longest_px=longest_px)


def test_what_is_no_picture_is_refused() -> None:
    """The copies trust nothing that intake would not."""
    with pytest.raises(BadFile, match="not a picture"):
        upright_jpeg(b"plain words", longest_px=100)
