"""Codes read from pictures: from drawn labels, from turned and damaged photos, from no picture."""

from __future__ import annotations

import io
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageFilter

from salvage.codes import read
from salvage.codes.draw import Symbol, draw_code128, draw_data_matrix, draw_qr, symbol_png
from salvage.codes.read import missing_readers, read_codes
from salvage.codes.zbar import SecondReader
from salvage.errors import BadFile


def paper_with(*symbols: Symbol, dots: int = 5) -> Image.Image:
    """White paper with symbols one below the other."""
    drawn = [Image.open(io.BytesIO(symbol_png(symbol, dots=dots))) for symbol in symbols]
    height = sum(each.height + 60 for each in drawn) + 60
    paper = Image.new("L", (max(each.width for each in drawn) + 120, height), 255)
    top = 60
    for each in drawn:
        paper.paste(each.convert("L"), (60, top))
        top += each.height + 60
    return paper


def saved(picture: Image.Image, kind: str = "PNG", **options: object) -> bytes:
    """A picture's bytes."""
    file = io.BytesIO()
    picture.save(file, kind, **options)
    return file.getvalue()


@pytest.fixture
def without_second_reader(monkeypatch: pytest.MonkeyPatch) -> None:
    """A machine on which pyzbar cannot load its library."""
    absent = SecondReader((sys.executable, "-c", "import a_library_that_is_not_there"))
    monkeypatch.setattr(read, "second_reader", lambda: absent)


def test_all_our_symbols_are_read_from_one_picture() -> None:
    """QR, Data Matrix and bars on one sheet are found, each once, from top to bottom."""
    sheet = paper_with(draw_qr("BC0002J"), draw_data_matrix("PC0002E"), draw_code128("DC0004J"))
    readings = read_codes(saved(sheet))

    assert [(found.text, found.symbology) for found in readings] == [
        ("BC0002J", "QR"),
        ("PC0002E", "Data Matrix"),
        ("DC0004J", "Code 128"),
    ]
    assert [found.reader for found in readings] == [
        "zxing-cpp",
        "zxing-cpp",
        "zxing-cpp",
    ]


def test_corners_lie_on_the_symbol() -> None:
    """The corners are where the modules are: 60 pixels of paper, then 4 modules of 5 pixels."""
    (found,) = read_codes(saved(paper_with(draw_qr("BC0002J"))))
    far = 80 + 21 * 5

    for (x, y), (true_x, true_y) in zip(
        found.corners_px, ((80, 80), (far, 80), (far, far), (80, far)), strict=True
    ):
        assert abs(x - true_x) <= 3
        assert abs(y - true_y) <= 3


@pytest.mark.parametrize("orientation", range(1, 9))
def test_corners_are_those_of_the_upright_picture(orientation: int) -> None:
    """A phone held sideways says so in EXIF (CIPA DC-008, tag 274); corners follow the upright."""
    upright = paper_with(draw_qr("BC0002J"), draw_qr("BC0003H"))
    undo = {
        2: Image.Transpose.FLIP_LEFT_RIGHT,
        3: Image.Transpose.ROTATE_180,
        4: Image.Transpose.FLIP_TOP_BOTTOM,
        5: Image.Transpose.TRANSPOSE,
        6: Image.Transpose.ROTATE_90,
        7: Image.Transpose.TRANSVERSE,
        8: Image.Transpose.ROTATE_270,
    }
    stored = upright.transpose(undo[orientation]) if orientation > 1 else upright
    exif = Image.Exif()
    exif[274] = orientation
    readings = read_codes(saved(stored, "JPEG", exif=exif, quality=90))

    assert [found.text for found in readings] == ["BC0002J", "BC0003H"]
    assert abs(min(y for _, y in readings[0].corners_px) - 80) <= 3


@pytest.mark.parametrize("degrees", [10, 37, 90, 145, 200])
def test_a_turned_label_is_read(degrees: int) -> None:
    """A label lies on the bench as it fell."""
    turned = paper_with(draw_qr("BC0002J")).rotate(degrees, expand=True, fillcolor=255)

    assert [found.text for found in read_codes(saved(turned))] == ["BC0002J"]


def test_light_on_dark_is_read() -> None:
    """A tag engraved light on dark is read by the first reader alone."""
    dark = Image.eval(paper_with(draw_qr("BC0002J")), lambda value: 255 - value)
    (found,) = read_codes(saved(dark))

    assert (found.text, found.reader) == ("BC0002J", "zxing-cpp")


def test_transparent_parts_are_paper() -> None:
    """A symbol on a transparent ground is read as if on white paper."""
    ink = paper_with(draw_qr("BC0002J"))
    clear = Image.new("RGBA", ink.size, (0, 0, 0, 0))
    clear.paste((0, 0, 0, 255), mask=Image.eval(ink, lambda value: 255 - value))

    assert [found.text for found in read_codes(saved(clear))] == ["BC0002J"]


@pytest.mark.usefixtures("without_second_reader")
def test_reading_goes_on_without_the_second_reader() -> None:
    """Without the zbar library the first reader works alone, and one line says the mend."""
    (found,) = read_codes(saved(paper_with(draw_qr("BC0002J"))))
    (line,) = missing_readers()

    assert found.reader == "zxing-cpp"
    assert "install" in line
    assert "\n" not in line


@pytest.mark.usefixtures("without_second_reader")
@pytest.mark.parametrize(
    ("platform", "mend"), [("darwin", "brew install zbar"), ("linux", "apt-get install libzbar0")]
)
def test_the_mend_fits_the_machine(
    monkeypatch: pytest.MonkeyPatch, platform: str, mend: str
) -> None:
    """Each system is told its own command."""
    monkeypatch.setattr(sys, "platform", platform)

    assert missing_readers()[0].endswith(mend)


def test_a_whole_machine_misses_no_reader() -> None:
    """With both libraries in place there is nothing to say."""
    assert missing_readers() == ()


def test_a_picture_without_codes_has_no_readings() -> None:
    """A plain bench is no error."""
    assert read_codes(saved(Image.new("RGB", (300, 200), "tan"))) == ()


@pytest.mark.parametrize("data", [b"", b"not a picture", b"\x89PNG\r\n\x1a\n", b"GIF89a"])
def test_what_is_no_picture_is_refused(data: bytes) -> None:
    """Other files are refused in one line that names the formats."""
    with pytest.raises(BadFile, match="JPEG") as refusal:
        read_codes(data)

    assert "\n" not in str(refusal.value)


@given(kind=st.sampled_from(["PNG", "JPEG", "WEBP", "TIFF"]), share=st.floats(0.01, 0.97))
def test_a_picture_cut_short_is_refused_or_read(kind: str, share: float) -> None:
    """A half-copied photo gives a reading, nothing, or our error; never another one."""
    whole = saved(paper_with(draw_qr("BC0002J")).filter(ImageFilter.BLUR), kind)
    try:
        texts = {found.text for found in read_codes(whole[: int(len(whole) * share)])}
    except BadFile:
        texts = set()

    assert texts <= {"BC0002J"}


@pytest.mark.parametrize("side", [9_000, 20_000])
def test_a_picture_too_large_to_open_is_refused(side: int) -> None:
    """A small file may unfold to more than the memory; its size is looked at first."""
    bomb = saved(Image.new("1", (side, side)))

    with pytest.raises(BadFile, match="million pixels"):
        read_codes(bomb)


def test_a_phones_heic_is_opened() -> None:
    """Phones write HEIC; this one shows no code."""
    heic = Path(__file__).parents[1] / "photo" / "pictures" / "upright.heic"

    assert read_codes(heic.read_bytes()) == ()
