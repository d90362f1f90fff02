"""
What labels are printed on: sheets of labels and rolls, in millimetres.

The printed stock is named by its own geometry. Paper sizes are those of ISO 216 and, for Letter,
ANSI/ASME Y14.1; the label grids are common trade dimensions, from memory: measure yours with the
test sheet of :func:`salvage.paper.label.print_test_sheet` before you print a whole sheet.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from salvage.errors import BadValue

# ISO 216:2007, table 1 (A series), width and height in millimetres.
A4_MM = (210.0, 297.0)
A5_MM = (148.0, 210.0)
A6_MM = (105.0, 148.0)
LETTER_MM = (215.9, 279.4)  # 8.5 by 11 inches

# Thermal printers with "203 dpi" heads have 8 dots a millimetre, those with "300 dpi" heads 11.8
# (common practice, from memory).
_DOTS_PER_MM = {203: 8.0, 300: 300 / 25.4, 600: 600 / 25.4}

_FROM_MEMORY = "from memory"
_CUSTOM = re.compile(
    r"([0-9]+(?:[.,][0-9]+)?)\s*(?:mm)?\s*[x×]\s*([0-9]+(?:[.,][0-9]+)?)\s*(?:mm)?"
    r"(?:\s*@\s*([0-9]+)\s*(?:dpi)?)?"
)


@dataclass(frozen=True, slots=True)
class Stock:
    """
    A sheet or roll of labels; a roll is a page that is one label.

    Args:
        name: Its geometry in words, such as ``a4-3x8``.
        page_mm: Width and height of the page.
        columns: Labels side by side.
        rows: Labels one below the other.
        label_mm: Width and height of one label.
        margin_mm: Distance of the first label from the left and the top edge of the page.
        pitch_mm: Distance from one label's left (top) edge to the next one's.
        dpi: Printer resolution that module sizes are chosen for.
        confidence: Where the dimensions are from.
    """

    name: str
    page_mm: tuple[float, float]
    columns: int
    rows: int
    label_mm: tuple[float, float]
    margin_mm: tuple[float, float]
    pitch_mm: tuple[float, float]
    dpi: int = 203
    confidence: str = _FROM_MEMORY

    @property
    def count(self) -> int:
        """Labels on one page."""
        return self.columns * self.rows

    @property
    def dot_mm(self) -> float:
        """Side of one printer dot."""
        return 1 / _DOTS_PER_MM[self.dpi]

    def corner_mm(self, place: int) -> tuple[float, float]:
        """
        Left and top of a label on its page.

        Args:
            place: 0 for the first, counted along the rows.

        >>> STOCKS["a4-3x8"].corner_mm(4)
        (70.0, 37.5)
        """
        row, column = divmod(place, self.columns)
        return (
            self.margin_mm[0] + column * self.pitch_mm[0],
            self.margin_mm[1] + row * self.pitch_mm[1],
        )


def roll(width_mm: float, height_mm: float, *, dpi: int = 203, confidence: str = "given") -> Stock:
    """
    A roll of single labels.

    >>> roll(57, 32).name
    'roll-57x32'
    """
    return Stock(
        name=f"roll-{width_mm:g}x{height_mm:g}",
        page_mm=(width_mm, height_mm),
        columns=1,
        rows=1,
        label_mm=(width_mm, height_mm),
        margin_mm=(0.0, 0.0),
        pitch_mm=(width_mm, height_mm),
        dpi=dpi,
        confidence=confidence,
    )


STOCKS = {
    stock.name: stock
    for stock in (
        Stock("a4-3x8", A4_MM, 3, 8, (70.0, 37.0), (0.0, 0.5), (70.0, 37.0)),
        Stock("a4-3x7", A4_MM, 3, 7, (63.5, 38.1), (7.25, 15.15), (66.0, 38.1)),
        Stock("letter-3x10", LETTER_MM, 3, 10, (66.675, 25.4), (4.7625, 12.7), (69.85, 25.4)),
        roll(57, 32, confidence=_FROM_MEMORY),
        roll(50, 25, confidence=_FROM_MEMORY),
    )
}
"""Sheets and rolls known by name."""


def parse_stock(text: str, *, field: str = "") -> Stock:
    """
    A stock by its name, or a roll of the size given.

    Args:
        text: A name of :data:`STOCKS`, or width by height such as ``57x32mm``; ``@300`` after it
            chooses the printer's resolution.
        field: Label for the error.

    Raises:
        BadValue: If it is neither, or the size is outside 10 to 300 mm.

    >>> parse_stock("40 x 30 mm").label_mm
    (40.0, 30.0)
    """
    tidy = text.strip().lower()
    if tidy in STOCKS:
        return STOCKS[tidy]
    match = _CUSTOM.fullmatch(tidy)
    if not match:
        raise BadValue(
            f"'{text}' is not a label stock",
            hint=f"use {', '.join(STOCKS)}, or a size such as 57x32mm",
            field=field,
        )
    width, height = (float(match[n].replace(",", ".")) for n in (1, 2))
    dpi = int(match[3] or 203)
    if dpi not in _DOTS_PER_MM:
        raise BadValue(f"{dpi} dpi is not known here", hint="use 203, 300 or 600", field=field)
    if not (10 <= width <= 300 and 10 <= height <= 300):
        raise BadValue(f"'{text}' is out of range", hint="10 to 300 mm each way", field=field)
    return roll(width, height, dpi=dpi)
