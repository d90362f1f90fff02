"""
Labels for boards, pieces and drop-offs, on sheets and on rolls, true to size.

A title or line that is longer than its place is cut short with an ellipsis; it never runs over the
symbol or off the label.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

from salvage.errors import BadValue, NoGlyph
from salvage.paper.picture import svg_modules
from salvage.paper.placing import Box, place_on_label
from salvage.paper.stock import Stock
from salvage.paper.typeset import Data, typeset, typeset_pages_png

if TYPE_CHECKING:
    from pathlib import Path

_RULE_ROOM_MM = 10.0

STAND_IN = "□"
"""
What is printed for a character that no font here has, so that its place is seen.
"""

# Each round costs a tenth of a second; a sheet in a script without a font would need hundreds.
_MOST_ROUNDS = 24
_LAST_LATIN = "\u024f"


@dataclass(frozen=True, slots=True)
class Label:
    """
    One label.

    Args:
        code: Code in plain characters.
        title: What it is, in bold; may run over two lines.
        lines: Further lines, most important first; those without room are left out.
        symbol_svg: The code as a picture whose ``viewBox`` counts modules, quiet zone included.
        alert: Short warning in a black band, such as ``Battery inside``; empty for none.
    """

    code: str
    title: str
    lines: tuple[str, ...]
    symbol_svg: str
    alert: str = ""


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


def print_what_can_be(
    labels: Sequence[Label],
    stock: Stock,
    *,
    made_on: date,
    start: int = 1,
    extra_fonts: Path | None = None,
) -> PrintedLabels:
    """
    The labels, with a stand-in for each character that no font here has: a label must not fail.

    Args:
        labels: As for :func:`print_labels`, and so on.
        stock: Sheet or roll.
        made_on: Date of the document.
        start: First place to use.
        extra_fonts: Folder with more fonts.

    Raises:
        BadValue: As for :func:`print_labels`, but for characters.
    """
    missing: dict[str, None] = {}
    for _ in range(_MOST_ROUNDS):
        shown = [_stand_in(label, missing) for label in labels]
        try:
            pdf = print_labels(shown, stock, made_on=made_on, start=start, extra_fonts=extra_fonts)
        except NoGlyph as error:
            missing[error.character] = None
        else:
            return PrintedLabels(pdf, tuple(missing))
    others = {c for label in labels for c in _words_of(label) if c > _LAST_LATIN}
    missing |= dict.fromkeys(sorted(others))
    shown = [_stand_in(label, missing) for label in labels]
    pdf = print_labels(shown, stock, made_on=made_on, start=start, extra_fonts=extra_fonts)
    return PrintedLabels(pdf, tuple(missing))


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
    extra_fonts: Path | None = None,
) -> bytes:
    """
    A PDF of the labels, true to size: print it at 100 %, without fitting to the page.

    A sheet whose margin has room carries a rule of 100 mm to measure after printing; for the others
    there is :func:`print_test_sheet`.

    Args:
        labels: In the order of the sheet, along the rows.
        stock: Sheet or roll.
        made_on: Date of the document.
        start: First place to use, 1 or more, so that a half-used sheet can be used up.
        extra_fonts: Folder with more fonts.

    Raises:
        BadValue: If there is no label, *start* is not on the sheet, a label is too small for its
            code, or no font has one of the characters.
    """
    data = _sheet_data(labels, stock, start=start)
    return typeset("labels", data, pictures={}, made_on=made_on, extra_fonts=extra_fonts)


def draw_labels_png(
    labels: Sequence[Label], stock: Stock, *, made_on: date, extra_fonts: Path | None = None
) -> list[bytes]:
    """
    One PNG a page at the printer's own dots, such as a label printer's queue wants.

    Args:
        labels: As for :func:`print_labels`.
        stock: As for :func:`print_labels`.
        made_on: Date of the document.
        extra_fonts: Folder with more fonts.

    Raises:
        BadValue: As for :func:`print_labels`.
    """
    return typeset_pages_png(
        "labels",
        _sheet_data(labels, stock, start=1),
        pictures={},
        made_on=made_on,
        extra_fonts=extra_fonts,
        dpi=25.4 / stock.dot_mm,
    )


def print_test_sheet(stock: Stock, *, made_on: date) -> bytes:
    """
    A PDF with the outlines of a stock's labels and a rule of 100 mm.

    Print it on plain paper, measure the rule, and hold it against a sheet of labels.

    Args:
        stock: Sheet or roll.
        made_on: Date of the document.
    """
    corners = [stock.corner_mm(place) for place in range(stock.count)]
    data: dict[str, Data] = {
        "page_mm": stock.page_mm,
        "label_mm": stock.label_mm,
        "corners_mm": corners,
        "name": stock.name,
    }
    return typeset("test_sheet", data, pictures={}, made_on=made_on)


def _sheet_data(labels: Sequence[Label], stock: Stock, *, start: int) -> dict[str, Data]:
    if not labels:
        raise BadValue("there is no label to print", hint="name at least one code")
    if not 1 <= start <= stock.count:
        raise BadValue(
            f"place {start} is not on a sheet {stock.name}", hint=f"use 1 to {stock.count}"
        )
    pages: list[list[Data]] = [[]]
    for place, label in enumerate(labels, start - 1):
        if place % stock.count == 0 and pages[-1]:
            pages.append([])
        left, top = stock.corner_mm(place % stock.count)
        pages[-1].append({"left_mm": left, "top_mm": top, **_label_data(label, stock)})
    return {
        "title": _document_title(labels),
        "page_mm": stock.page_mm,
        "label_mm": stock.label_mm,
        "rule_top_mm": _rule_top_mm(stock),
        "pages": pages,
    }


def _document_title(labels: Sequence[Label]) -> str:
    first, last = labels[0].code, labels[-1].code
    return f"Label {first}" if len(labels) == 1 else f"{len(labels)} labels, {first} to {last}"


def _rule_top_mm(stock: Stock) -> float | None:
    """Top of the strip for the 100 mm rule: the margin below the labels, or above, or none."""
    _, last_top = stock.corner_mm(stock.count - 1)
    below = last_top + stock.label_mm[1]
    if stock.page_mm[0] < 110:
        return None
    if stock.page_mm[1] - below >= _RULE_ROOM_MM:
        return below + 1
    return 1.0 if stock.margin_mm[1] >= _RULE_ROOM_MM else None


def _label_data(label: Label, stock: Stock) -> dict[str, Data]:
    placing = place_on_label(
        stock, svg_modules(label.symbol_svg), label.code, alert=bool(label.alert)
    )
    return {
        "symbol_box": _box_data(placing.symbol),
        "words_box": _box_data(placing.words),
        "beside": placing.beside,
        "code_pt": placing.code_pt,
        "code": label.code,
        "name": label.title,
        "lines": label.lines,
        "alert": label.alert,
        "symbol": label.symbol_svg,
    }


def _box_data(box: Box) -> dict[str, Data]:
    return {
        "left_mm": box.left_mm,
        "top_mm": box.top_mm,
        "width_mm": box.width_mm,
        "height_mm": box.height_mm,
    }
