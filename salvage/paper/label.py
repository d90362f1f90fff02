"""
Labels for boards, places, pieces and buyers, on sheets, rolls and folded tags, true to size.

A title or line that is longer than its place is cut short with an ellipsis; it never runs over the
symbol or off the label.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, TypeVar

from salvage.errors import NoGlyph
from salvage.paper.correction import TRUE, Correction
from salvage.paper.label_page import Label, sheet_data
from salvage.paper.stock import Stock
from salvage.paper.typeset import Data, typeset, typeset_pages_png

if TYPE_CHECKING:
    from pathlib import Path

Made = TypeVar("Made")

STAND_IN = "□"
"""
What is printed for a character that no font here has, so that its place is seen.
"""

# Each round costs a tenth of a second; a sheet in a script without a font would need hundreds.
_MOST_ROUNDS = 24
_LAST_LATIN = "\u024f"

_HALF_GRAY = 128


@dataclass(frozen=True, slots=True)
class PrintedLabels:
    """
    Labels as printed.

    Args:
        pdf: The document.
        missing: Characters that no font here has; :data:`STAND_IN` stands for them.
    """

    pdf: bytes
    missing: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Run:
    """
    How a batch of labels is printed.

    Args:
        made_on: Date of the document.
        start: First place to use, 1 or more, so that a half-used sheet can be used up.
        correction: How the printer is off.
        extra_fonts: Folder with more fonts.
    """

    made_on: date
    start: int = 1
    correction: Correction = TRUE
    extra_fonts: Path | None = None


def print_what_can_be(labels: Sequence[Label], stock: Stock, run: Run) -> PrintedLabels:
    """
    The labels, with a stand-in for each character that no font here has: a label must not fail.

    Args:
        labels: As for :func:`print_labels`.
        stock: Sheet or roll.
        run: How they are printed.

    Raises:
        BadValue: As for :func:`print_labels`, but for characters.
    """
    pdf, missing = _with_stand_ins(labels, lambda shown: _pdf(shown, stock, run))
    return PrintedLabels(pdf, missing)


def draw_what_can_be(
    labels: Sequence[Label], stock: Stock, run: Run
) -> tuple[list[bytes], tuple[str, ...]]:
    """Bitmaps as :func:`draw_labels_png` gives them, and the characters that have a stand-in."""
    return _with_stand_ins(labels, lambda shown: _bitmaps(shown, stock, run))


def _with_stand_ins(
    labels: Sequence[Label], make: Callable[[Sequence[Label]], Made]
) -> tuple[Made, tuple[str, ...]]:
    missing: dict[str, None] = {}
    for _ in range(_MOST_ROUNDS):
        try:
            return make([_stand_in(label, missing) for label in labels]), tuple(missing)
        except NoGlyph as error:
            missing[error.character] = None
    others = {c for label in labels for c in _words_of(label) if c > _LAST_LATIN}
    missing |= dict.fromkeys(sorted(others))
    return make([_stand_in(label, missing) for label in labels]), tuple(missing)


def _words_of(label: Label) -> str:
    return "".join((label.title, *label.lines, label.alert))


def _stand_in(label: Label, missing: Iterable[str]) -> Label:
    """The label with the stand-in for the missing characters."""
    table = str.maketrans(dict.fromkeys(missing, STAND_IN))
    return replace(
        label,
        title=label.title.translate(table),
        lines=tuple(line.translate(table) for line in label.lines),
        alert=label.alert.translate(table),
    )


def print_labels(
    labels: Sequence[Label],
    stock: Stock,
    *,
    made_on: date,
    start: int = 1,
    correction: Correction = TRUE,
    extra_fonts: Path | None = None,
) -> bytes:
    """
    A PDF of the labels, true to size: print it at 100 %, without fitting to the page.

    A sheet whose margin has room carries a rule of 100 mm to measure after printing; for the others
    there is :func:`print_outlines`.

    Args:
        labels: In the order of the sheet, along the rows.
        stock: Sheet or roll.
        made_on: Date of the document.
        start: First place to use, 1 or more, so that a half-used sheet can be used up.
        correction: How the printer is off.
        extra_fonts: Folder with more fonts.

    Raises:
        BadValue: If there is no label, *start* is not on the sheet, a label is too small for its
            code, or no font has one of the characters.
    """
    return _pdf(labels, stock, Run(made_on, start, correction, extra_fonts))


def draw_labels_png(
    labels: Sequence[Label],
    stock: Stock,
    *,
    made_on: date,
    correction: Correction = TRUE,
    extra_fonts: Path | None = None,
) -> list[bytes]:
    """
    One black and white PNG a page at the printer's own dots, as a label printer's queue wants.

    Args:
        labels: As for :func:`print_labels`, and so on.
        stock: Sheet or roll.
        made_on: Date of the document.
        correction: How the printer is off.
        extra_fonts: Folder with more fonts.

    Raises:
        BadValue: As for :func:`print_labels`.
    """
    return _bitmaps(labels, stock, Run(made_on, 1, correction, extra_fonts))


def _pdf(labels: Sequence[Label], stock: Stock, run: Run) -> bytes:
    data = sheet_data(labels, stock, start=run.start, correction=run.correction)
    return typeset("labels", data, pictures={}, made_on=run.made_on, extra_fonts=run.extra_fonts)


def _bitmaps(labels: Sequence[Label], stock: Stock, run: Run) -> list[bytes]:
    dpi = 25.4 / stock.dot_mm
    pages = typeset_pages_png(
        "labels",
        sheet_data(labels, stock, start=run.start, correction=run.correction),
        pictures={},
        made_on=run.made_on,
        extra_fonts=run.extra_fonts,
        dpi=dpi,
    )
    return [_black_and_white(page, dpi) for page in pages]


def _black_and_white(png: bytes, dpi: float) -> bytes:
    """A picture in one bit a dot: a thermal head knows no gray."""
    from PIL import Image

    with Image.open(io.BytesIO(png)) as opened:
        gray = opened.convert("L")
    file = io.BytesIO()
    dots = gray.point(lambda value: 255 * (value >= _HALF_GRAY)).convert("1")
    dots.save(file, format="PNG", optimize=True, dpi=(dpi, dpi))
    return file.getvalue()


def print_outlines(stock: Stock, *, made_on: date, correction: Correction = TRUE) -> bytes:
    """
    A PDF with the outlines of a stock's labels and a rule of 100 mm.

    Print it on plain paper, measure the rule, and hold it against a sheet of labels.

    Args:
        stock: Sheet or roll.
        made_on: Date of the document.
        correction: How the printer is off.
    """
    boxes: list[Data] = []
    for place in range(stock.count):
        left, top = stock.corner_mm(place)
        right, bottom = left + stock.label_mm[0], top + stock.label_mm[1]
        (left, top), (right, bottom) = correction.put((left, top)), correction.put((right, bottom))
        boxes.append([left, top, right - left, bottom - top])
    data: dict[str, Data] = {
        "page_mm": stock.page_mm,
        "label_mm": stock.label_mm,
        "boxes_mm": boxes,
        "rule_mm": 100 / correction.stretch[0],
        "name": stock.name,
    }
    return typeset("test_sheet", data, pictures={}, made_on=made_on)
