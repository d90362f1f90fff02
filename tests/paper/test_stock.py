"""Sheets and rolls, against the standard paper sizes and their own arithmetic."""

from __future__ import annotations

import pytest

from salvage.errors import BadValue
from salvage.paper.stock import A4_MM, A5_MM, A6_MM, LETTER_MM, STOCKS, Stock, parse_stock, roll


def test_paper_sizes_are_those_of_iso_216() -> None:
    """ISO 216, table 1: A4, A5, A6; each is the one before, halved and rounded down."""
    halves = [(int(big[1] / 2), big[0]) for big in (A4_MM, A5_MM)]

    assert (A4_MM, A5_MM, A6_MM) == ((210, 297), (148, 210), (105, 148))
    assert halves == [A5_MM, A6_MM]


def test_letter_is_eight_and_a_half_by_eleven_inches() -> None:
    """ANSI/ASME Y14.1, size A: 8.5 by 11 inches of 25.4 mm."""
    assert pytest.approx((8.5 * 25.4, 11 * 25.4)) == LETTER_MM


@pytest.mark.parametrize("stock", STOCKS.values(), ids=STOCKS)
def test_labels_lie_on_the_page_and_apart(stock: Stock) -> None:
    """The last label ends on the page, and none reaches into the next."""
    left, top = stock.corner_mm(stock.count - 1)

    assert left + stock.label_mm[0] <= stock.page_mm[0] + 1e-9
    assert top + stock.label_mm[1] <= stock.page_mm[1] + 1e-9
    assert stock.columns == 1 or stock.pitch_mm[0] >= stock.label_mm[0]
    assert stock.rows == 1 or stock.pitch_mm[1] >= stock.label_mm[1]


@pytest.mark.parametrize("stock", STOCKS.values(), ids=STOCKS)
def test_a_sheet_is_symmetric(stock: Stock) -> None:
    """Left and right margins are equal, top and bottom too (common practice, no source)."""
    left, top = stock.corner_mm(stock.count - 1)

    assert stock.page_mm[0] - left - stock.label_mm[0] == pytest.approx(stock.margin_mm[0])
    assert stock.page_mm[1] - top - stock.label_mm[1] == pytest.approx(stock.margin_mm[1])


def test_every_known_stock_says_how_sure_it_is() -> None:
    """Dimensions that nobody looked up are marked so."""
    assert {stock.confidence for stock in STOCKS.values()} == {"from memory"}
    assert all(stock.name == name for name, stock in STOCKS.items())


@pytest.mark.parametrize(
    ("text", "size", "dpi"),
    [
        ("57x32mm", (57, 32), 203),
        (" 40 X 30 ", (40, 30), 203),
        ("40,5×30.5 mm", (40.5, 30.5), 203),
        ("57mm x 32mm @300dpi", (57, 32), 300),
        ("roll-50x25", (50, 25), 203),
        ("A4-3x8", (70, 37), 203),
    ],
)
def test_a_stock_is_named_or_measured(text: str, size: tuple[float, float], dpi: int) -> None:
    """A known name or a size in millimetres, in whatever spelling, is understood."""
    stock = parse_stock(text)

    assert (stock.label_mm, stock.dpi) == (size, dpi)


@pytest.mark.parametrize("text", ["", "large", "57", "57x", "0x0", "9x40", "40x301", "57x32@72"])
def test_what_is_no_stock_is_refused(text: str) -> None:
    """Other text is refused with the field and a way out."""
    with pytest.raises(BadValue, match="--stock") as refusal:
        parse_stock(text, field="--stock")

    assert refusal.value.hint


def test_a_203_dpi_printer_has_eight_dots_a_millimetre() -> None:
    """A roll of 50 by 25 mm is 400 by 200 dots on it, and 12 dots an inch more elsewhere."""
    assert roll(50, 25).dot_mm == 0.125
    assert roll(50, 25, dpi=300).dot_mm == pytest.approx(25.4 / 300)
