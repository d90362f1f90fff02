"""Photos on their way to paper."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from PIL import Image

from salvage.errors import BadFile
from salvage.paper.picture import print_picture, svg_modules
from tests.paper.samples import picture

HEIC = Path(__file__).parents[1] / "photo" / "pictures" / "upright.heic"


def test_a_photo_is_no_finer_than_print_needs() -> None:
    """100 mm at 300 dots an inch are 1181 pixels; a smaller photo is not blown up."""
    large = Image.open(
        io.BytesIO(print_picture(picture("teal", size=(4000, 3000)), longest_mm=100))
    )
    small = Image.open(io.BytesIO(print_picture(picture("teal", size=(400, 600)), longest_mm=100)))

    assert (large.size, large.format) == ((1181, 886), "JPEG")
    assert small.size == (400, 600)


def test_the_place_where_a_photo_was_taken_is_not_passed_on() -> None:
    """A phone writes position and owner into the file; the printed picture has pixels only."""
    exif = Image.Exif()
    exif[274] = 6
    exif[0x9C9D] = "owner of the phone".encode("utf-16-le")
    exif.get_ifd(0x8825)[2] = (54.0, 19.0, 12.0)
    file = io.BytesIO()
    Image.new("RGB", (300, 200), "tan").save(file, "JPEG", exif=exif)
    made = Image.open(io.BytesIO(print_picture(file.getvalue(), longest_mm=100)))

    assert made.size == (200, 300)
    assert dict(made.getexif()) == {}


def test_transparent_parts_become_white() -> None:
    """A board map with a clear ground prints on white, not on black."""
    clear = Image.new("RGBA", (40, 40), (0, 0, 0, 0))
    file = io.BytesIO()
    clear.save(file, "PNG")
    made = Image.open(io.BytesIO(print_picture(file.getvalue(), longest_mm=40)))

    assert made.convert("L").getextrema() == (255, 255)


def test_a_phones_heic_is_printed() -> None:
    """Phones write HEIC; it becomes a JPEG like any other photo."""
    made = Image.open(io.BytesIO(print_picture(HEIC.read_bytes(), longest_mm=100)))

    assert made.format == "JPEG"


@pytest.mark.parametrize("data", [b"", b"<svg/>", b"\xff\xd8\xff\xe0", picture("teal")[:900]])
def test_what_is_no_whole_picture_is_refused(data: bytes) -> None:
    """Other files and half copies are refused in one line."""
    with pytest.raises(BadFile, match="not a picture") as refusal:
        print_picture(data, longest_mm=100)

    assert "\n" not in str(refusal.value)


@pytest.mark.parametrize("side", [9_000, 20_000])
def test_a_picture_too_large_to_open_is_refused(side: int) -> None:
    """The size is looked at before the pixels are unfolded."""
    file = io.BytesIO()
    Image.new("1", (side, side)).save(file, "PNG")

    with pytest.raises(BadFile, match="million pixels"):
        print_picture(file.getvalue(), longest_mm=100)


@pytest.mark.parametrize(
    "svg", ["", "<svg></svg>", '<svg viewBox="0 0 0 9">', '<svg viewBox="1 0 9 9">', "viewBox"]
)
def test_a_symbol_without_modules_is_refused(svg: str) -> None:
    """Without its size in modules a symbol cannot be set on whole dots."""
    with pytest.raises(BadFile, match="modules"):
        svg_modules(svg)
