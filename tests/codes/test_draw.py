"""Symbols against the published facts of their standards, and against other people's readers."""

from __future__ import annotations

import io
import re

import pytest
import zxingcpp
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from pyzbar.pyzbar import decode

from salvage.codes.draw import (
    QR_LEVELS,
    Symbol,
    draw_code128,
    draw_data_matrix,
    draw_qr,
    symbol_png,
    symbol_svg,
)
from salvage.codes.payload import wrap
from salvage.errors import BadValue
from salvage.ids import next_code
from tests.codes.code128_modules import (
    START_A,
    STOP,
    check_value,
    text_of_values,
    values_of_bars,
)

# ISO/IEC 18004, 7.9: the generator of the format information code, its mask, and the worked example
# (level M, mask pattern 101, so data bits 00101, gives 100000011001110).
_GENERATOR, _FORMAT_MASK = 0b10100110111, 0b101010000010010
_LEVEL_BITS = {"L": 0b01, "M": 0b00, "Q": 0b11, "H": 0b10}


def format_word(data: int) -> int:
    """The 15 format bits of five data bits."""
    rest = data << 10
    for shift in range(4, -1, -1):
        if rest >> (shift + 10) & 1:
            rest ^= _GENERATOR << shift
    return (data << 10 | rest) ^ _FORMAT_MASK


def format_bits_drawn(rows: tuple[str, ...]) -> tuple[int, int]:
    """Both copies of the format bits as they stand in a symbol."""
    size = len(rows)
    first = [(i, 8) for i in (0, 1, 2, 3, 4, 5, 7, 8)] + [(8, i) for i in (7, 5, 4, 3, 2, 1, 0)]
    second = [(8, size - 1 - i) for i in range(8)] + [(size - 7 + i, 8) for i in range(7)]
    copies = [sum((rows[y][x] == "#") << i for i, (y, x) in enumerate(c)) for c in (first, second)]
    return copies[0], copies[1]


def gray(symbol: Symbol, dots: int = 4) -> Image.Image:
    """The symbol's PNG as a gray picture with some white around it."""
    drawn = Image.open(io.BytesIO(symbol_png(symbol, dots=dots))).convert("L")
    paper = Image.new("L", (drawn.width + 40, drawn.height + 40), 255)
    paper.paste(drawn, (20, 20))
    return paper


def test_a_light_row_inside_a_symbol_stays() -> None:
    """The eighth row of this symbol is all light; it once fell off with the margin."""
    rows = draw_qr("PC0726D").rows

    assert (len(rows), rows[7]) == (21, "." * 21)


def test_format_bits_follow_the_worked_example() -> None:
    """The test's own format code agrees with the example of ISO/IEC 18004, annex C."""
    assert format_word(0b00101) == 0b100000011001110


@pytest.mark.parametrize("level", QR_LEVELS)
def test_a_code_is_a_version_1_symbol_at_every_level(level: str) -> None:
    """ISO/IEC 18004: version 1 has 21 modules a side and a quiet zone of 4; ours is level H."""
    symbol = draw_qr("BC0002J", level)

    assert [len(row) for row in symbol.rows] == [21] * 21
    assert symbol.size_modules == (29, 29)
    assert symbol.level == "H"


@pytest.mark.parametrize("level", QR_LEVELS)
def test_the_level_drawn_is_the_level_said(level: str) -> None:
    """Both copies of the format bits say the level that the record says, or stronger than asked."""
    symbol = draw_qr("HTTPS://TIDEBELL.EXAMPLE/CARDS/PC0002E", level)
    first, second = format_bits_drawn(symbol.rows)
    words = {format_word(data): data for data in range(32)}

    assert first == second
    assert words[first] >> 3 == _LEVEL_BITS[symbol.level]
    assert QR_LEVELS.index(symbol.level) >= QR_LEVELS.index(level)


def test_finder_patterns_stand_in_three_corners() -> None:
    """ISO/IEC 18004, 6.3.3: squares of 7, 5 and 3 modules; the dark module beside one of them."""
    rows = draw_qr("BC0002J").rows
    finder = ["#######", "#.....#", "#.###.#", "#.###.#", "#.###.#", "#.....#", "#######"]

    assert [row[:7] for row in rows[:7]] == finder
    assert [row[-7:] for row in rows[:7]] == finder
    assert [row[:7] for row in rows[-7:]] == finder
    assert rows[13][8] == "#"


def test_data_matrix_has_its_solid_and_its_broken_border() -> None:
    """ISO/IEC 16022: left and bottom borders are solid, top and right alternate."""
    symbol = draw_data_matrix("BC0002J")

    assert symbol.size_modules == (16, 16)
    assert "".join(row[0] for row in symbol.rows) == "#" * 12
    assert symbol.rows[-1] == "#" * 12
    assert symbol.rows[0] == "#." * 6
    assert "".join(row[-1] for row in symbol.rows) == ".#" * 6


@pytest.mark.parametrize(
    ("values", "check"),
    [
        # barcodeisland.com, "Code 128 Barcode": HI345678 from set A with a change to set C, sum
        # 1406; with start B in place of A the sum is one more.
        ([103, 40, 41, 99, 34, 56, 78], 67),
        ([104, 40, 41, 99, 34, 56, 78], 68),
        # PJJ123C in set A, the example of the encyclopaedia article "Code 128".
        ([103, 48, 42, 42, 17, 18, 19, 35], 54),
        # barcoderesource.com, "Code 128 check character": ABCDEF in A, abcdef in B, 345678 in C.
        ([103, 33, 34, 35, 36, 37, 38], 42),
        ([104, 65, 66, 67, 68, 69, 70], 97),
        ([105, 34, 56, 78], 73),
    ],
)
def test_check_values_agree_with_published_examples(values: list[int], check: int) -> None:
    """The test's own check rule gives the values that others published."""
    assert check_value(values) == check


@pytest.mark.parametrize("text", ["HI345678", "PJJ123C", "BC0002J", "PB1234J", "abcdef", "345678"])
def test_bars_say_the_text_and_carry_its_check_value(text: str) -> None:
    """Read module by module, the bars hold start, text, the check value of the rule, and stop."""
    values = values_of_bars(draw_code128(text).rows[0])

    assert values[0] >= START_A
    assert values[-1] == STOP
    assert values[-2] == check_value(values[:-2])
    assert text_of_values(values) == text


@given(text=st.text(st.characters(min_codepoint=32, max_codepoint=126), min_size=1, max_size=20))
def test_any_line_of_plain_text_stands_in_bars(text: str) -> None:
    """What is drawn as bars is what the modules say, whatever the text."""
    values = values_of_bars(draw_code128(text).rows[0])

    assert text_of_values(values) == text
    assert values[-2] == check_value(values[:-2])


@given(
    last=st.integers(0, 99_000),
    host=st.sampled_from(["", "tidebell.example", "harbour-craft.example/pieces/of/the/north"]),
)
def test_both_readers_read_what_is_drawn(last: int, host: str) -> None:
    """A drawn QR code says the same to two readers that have nothing in common."""
    text = wrap(next_code("P", "C", last)[0], web_address=host)
    picture = gray(draw_qr(text))
    codes = zxingcpp.read_barcodes(picture, formats=zxingcpp.barcode_formats_from_str("QRCode"))

    assert [code.text for code in codes] == [text]
    assert [found.data.decode() for found in decode(picture)] == [text]


@pytest.mark.parametrize(
    "symbol", [draw_qr("BC0002J"), draw_code128("BC0002J")], ids=["QR", "bars"]
)
def test_the_svg_draws_the_same_modules_as_the_png(symbol: Symbol) -> None:
    """Painting the rectangles of the SVG on a grid gives the module rows back."""
    width, height = symbol.size_modules
    path = re.findall(r'fill="#000" d="([^"]*)"', symbol_svg(symbol))[0]
    grid = [["."] * width for _ in range(height)]
    for numbers in re.findall(r"M(\d+) (\d+)h(\d+)v(\d+)h-\d+z", path):
        left, top, across, down = map(int, numbers)
        for y in range(top, top + down):
            grid[y][left : left + across] = "#" * across
    png = Image.open(io.BytesIO(symbol_png(symbol, dots=1))).convert("L")
    pixels = [[".#"[png.getpixel((x, y)) == 0] for x in range(width)] for y in range(height)]
    inner = grid[symbol.quiet_rows : height - symbol.quiet_rows]

    assert ["".join(row)[symbol.quiet : -symbol.quiet] for row in inner] == list(symbol.rows)
    assert grid == pixels


def test_a_png_has_whole_dots() -> None:
    """A symbol of 29 modules at 6 dots a module is 174 pixels wide, in two colours."""
    png = Image.open(io.BytesIO(symbol_png(draw_qr("BC0002J"), dots=6)))

    assert (png.size, png.mode) == ((174, 174), "1")


@pytest.mark.parametrize("level", ["", "X", "LM", "m"])
def test_an_unknown_level_is_refused(level: str) -> None:
    """There are four levels, each one capital letter."""
    with pytest.raises(BadValue, match="not a level"):
        draw_qr("BC0002J", level)


@pytest.mark.parametrize("dots", [0, 65])
def test_a_module_has_between_one_and_64_dots(dots: int) -> None:
    """A module of no dots cannot be seen, one of too many fills the memory."""
    with pytest.raises(BadValue, match="out of range"):
        symbol_png(draw_qr("BC0002J"), dots=dots)


@pytest.mark.parametrize("text", ["", "x" * 9000])
def test_text_that_no_symbol_holds_is_refused_in_one_line(text: str) -> None:
    """Nothing, and far too much, are refused; a long text is not quoted in full."""
    for draw in (draw_qr, draw_data_matrix, draw_code128):
        with pytest.raises(BadValue) as refusal:
            draw(text)

        assert len(str(refusal.value)) < 140


def test_bars_hold_no_chinese() -> None:
    """Code 128 knows Latin-1 only; other scripts are refused, not garbled."""
    with pytest.raises(BadValue, match="Code 128"):
        draw_code128("日本")


def test_a_stronger_level_is_taken_only_where_it_is_free() -> None:
    """
    A weak level never yields a larger symbol than that level needs.

    ISO/IEC 18004, table 7 (from memory): of capitals, version 2 holds 47 at L, 38 at M and 29 at Q;
    version 3 holds 47 at Q and 35 at H.
    """
    address = "HTTPS://TIDEBELL.EXAMPLE/C/PC00022E"
    drawn = {level: draw_qr(address, level) for level in QR_LEVELS}

    assert len(address) == 35
    assert {level: (len(s.rows), s.level) for level, s in drawn.items()} == {
        "L": (25, "M"),
        "M": (25, "M"),
        "Q": (29, "H"),
        "H": (29, "H"),
    }


def test_a_full_symbol_keeps_its_level() -> None:
    """Where no stronger level holds the text, the level asked for stays (largest version, 40)."""
    symbol = draw_qr("A" * 4200, "L")

    assert (len(symbol.rows), symbol.level) == (177, "L")
