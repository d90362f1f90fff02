"""
What labels are printed on: sheets of labels, rolls, and tags that are folded, in millimetres.

The printed stock is named by its own geometry. Paper sizes are those of ISO 216 and, for Letter,
ANSI/ASME Y14.1; the label grids are common trade dimensions, from memory: hold yours
against the outlines of :func:`salvage.paper.label.print_outlines` before you print a whole sheet.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from salvage.errors import BadValue

# ISO 216:2007, table 1 (A series), width and height in millimetres.
A4_MM = (210.0, 297.0)
A5_MM = (148.0, 210.0)
A6_MM = (105.0, 148.0)
LETTER_MM = (215.9, 279.4)  # 8.5 by 11 inches

# Thermal printers with "203 dpi" heads have 8 dots a millimetre, those with "300 dpi" heads 11.8
# (common practice, from memory).
_DOTS_PER_MM = {203: 8.0, 300: 300 / 25.4, 600: 600 / 25.4, 1200: 1200 / 25.4}

DPI_HINT = "use " + ", ".join(map(str, _DOTS_PER_MM))
"""Which resolutions there are, as a hint."""

_LEAST_HALF_MM = 8.0
_FROM_MEMORY = "from memory"
_NUMBER = r"[0-9]+(?:[.,][0-9]+)?"
_CUSTOM = re.compile(
    rf"({_NUMBER})\s*(?:mm)?\s*[x×]\s*({_NUMBER})\s*(?:mm)?(?:\s*@\s*([0-9]{{1,6}})\s*(?:dpi)?)?"
    rf"(?:\s+fold(?:ed)?\s+(side|top))?(?:\s+tail\s+({_NUMBER})\s*(?:mm)?)?"
)

FOLDS = ("", "side", "top")
"""
How a label is folded: not at all; its right half behind its left one; its upper half backwards over
the edge of a bag.
"""


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
        fold: One of :data:`FOLDS`; the two halves carry the symbol and the words.
        tail_mm: Width of the strip between the halves that is not printed, as on a tag whose
            thin middle goes round a ring.
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
    fold: str = ""
    tail_mm: float = 0.0

    @property
    def half_mm(self) -> tuple[float, float]:
        """Width and height of one half of a folded label; of the whole label without a fold."""
        width, height = self.label_mm
        if self.fold == "side":
            return (width - self.tail_mm) / 2, height
        return (width, (height - self.tail_mm) / 2) if self.fold == "top" else (width, height)

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


def roll(
    width_mm: float,
    height_mm: float,
    *,
    dpi: int = 203,
    confidence: str = "given",
    fold: str = "",
    tail_mm: float = 0.0,
) -> Stock:
    """
    A roll of single labels.

    >>> roll(57, 32).name
    'roll-57x32'
    >>> roll(60, 12, fold="side", tail_mm=20).name
    'fold-60x12'
    """
    return Stock(
        name=f"{'fold' if fold else 'roll'}-{width_mm:g}x{height_mm:g}",
        page_mm=(width_mm, height_mm),
        columns=1,
        rows=1,
        label_mm=(width_mm, height_mm),
        margin_mm=(0.0, 0.0),
        pitch_mm=(width_mm, height_mm),
        dpi=dpi,
        confidence=confidence,
        fold=fold,
        tail_mm=tail_mm,
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


def parse_stock(text: str, *, field: str = "", known: Mapping[str, Stock] | None = None) -> Stock:
    """
    A stock by its name, or a roll of the size given.

    Args:
        text: A name, or width by height such as ``57x32mm``; ``@300`` after it chooses the
            printer's resolution, ``fold side`` or ``fold top`` a folded tag, and ``tail 20`` the
            strip between its halves.
        field: Label for the error.
        known: The workshop's own stock by name, besides :data:`STOCKS`.

    Raises:
        BadValue: If it is neither, or the size is outside 10 to 300 mm.

    >>> parse_stock("40 x 30 mm").label_mm
    (40.0, 30.0)
    >>> parse_stock("60x12mm @300 tail 20").half_mm
    (20.0, 12.0)
    """
    tidy = " ".join(text.split())
    names = {name.lower(): stock for name, stock in {**STOCKS, **(known or {})}.items()}
    if tidy.lower() in names:
        return names[tidy.lower()]
    match = _CUSTOM.fullmatch(tidy.lower())
    if not match:
        raise BadValue(
            f"'{text}' is not a label stock",
            hint=f"use {', '.join(names)}, or a size such as 57x32mm",
            field=field,
        )
    width, height = (float(match[n].replace(",", ".")) for n in (1, 2))
    tail = float((match[5] or "0").replace(",", "."))
    fold = match[4] or ("side" if tail else "")
    dpi = int(match[3] or 203)
    if not (10 <= width <= 300 and 10 <= height <= 300):
        raise BadValue(f"'{text}' is out of range", hint="10 to 300 mm each way", field=field)
    return check_stock(roll(width, height, dpi=dpi, fold=fold, tail_mm=tail), field=field)


def check_stock(stock: Stock, *, field: str = "") -> Stock:
    """
    The stock, if its labels lie on the page and apart from one another.

    Raises:
        BadValue: If they do not, or the resolution is not known, or a tail leaves no halves.
    """
    for name, room in (("wide", 0), ("high", 1)):
        last = (stock.columns, stock.rows)[room] - 1
        end = stock.margin_mm[room] + last * stock.pitch_mm[room] + stock.label_mm[room]
        if end > stock.page_mm[room] + 0.05:
            raise BadValue(
                f"the labels of {stock.name} reach {end:g} mm, and the page is"
                f" {stock.page_mm[room]:g} mm {name}",
                hint="check page, grid, label, pitch and margin",
                field=field,
            )
        if last and stock.pitch_mm[room] < stock.label_mm[room] - 1e-9:
            raise BadValue(
                f"the labels of {stock.name} overlap: {stock.label_mm[room]:g} mm {name}, and the"
                f" next begins after {stock.pitch_mm[room]:g} mm",
                hint="the pitch goes from one label's edge to the same edge of the next",
                field=field,
            )
    if stock.dpi not in _DOTS_PER_MM:
        raise BadValue(f"{stock.dpi} dpi is not known here", hint=DPI_HINT, field=field)
    if min(stock.half_mm) < _LEAST_HALF_MM:
        raise BadValue(
            f"a tail of {stock.tail_mm:g} mm leaves no room on {stock.name}",
            hint=f"each half needs {_LEAST_HALF_MM:g} mm",
            field=field,
        )
    return stock
