"""
Pages of labels as data for the template: every box in mm from the page's upper left corner.

Where the printer is off, the middle of each symbol and the corner of its words are put so that they
land where they should; the symbol keeps its size and stands on whole printer dots.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from salvage.errors import BadValue
from salvage.paper.correction import Correction
from salvage.paper.picture import svg_modules
from salvage.paper.placing import Box, place_on_label
from salvage.paper.stock import Stock
from salvage.paper.typeset import Data

_RULE_ROOM_MM = 10.0


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
        design: Key of :data:`salvage.paper.placing.DESIGNS`.
    """

    code: str
    title: str
    lines: tuple[str, ...]
    symbol_svg: str
    alert: str = ""
    design: str = "board"


def sheet_data(
    labels: Sequence[Label], stock: Stock, *, start: int, correction: Correction
) -> dict[str, Data]:
    """
    What the template of labels fills in.

    Args:
        labels: In the order of the sheet, along the rows.
        stock: Sheet or roll.
        start: First place to use, 1 or more.
        correction: How the printer is off.

    Raises:
        BadValue: If there is no label, *start* is not on the sheet, or a label is too small.
    """
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
        corner = stock.corner_mm(place % stock.count)
        pages[-1].append(_label_data(label, stock, corner, correction))
    return {
        "title": _document_title(labels),
        "page_mm": stock.page_mm,
        "rule_top_mm": _rule_top_mm(stock),
        "rule_mm": 100 / correction.stretch[0],
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


def _label_data(
    label: Label, stock: Stock, corner: tuple[float, float], correction: Correction
) -> Mapping[str, Data]:
    placing = place_on_label(
        stock,
        svg_modules(label.symbol_svg),
        label.code,
        design=label.design,
        alert=bool(label.alert),
    )
    return {
        "symbol_box": symbol_box_data(placing.symbol, corner, stock.dot_mm, correction),
        "words_box": _words_box(placing.words, corner, correction),
        "beside": placing.beside,
        "is_turned": placing.is_turned,
        "code_pt": placing.code_pt,
        "code_rows": _in_rows(label.code, placing.code_rows),
        "design": label.design,
        "name": label.title,
        "lines": label.lines,
        "alert": label.alert,
        "symbol": label.symbol_svg,
    }


def symbol_box_data(
    box: Box, corner: tuple[float, float], dot_mm: float, correction: Correction
) -> Mapping[str, Data]:
    """
    Where to put a symbol so that its middle lands right, in its own size and on whole dots.

    Args:
        box: Its place, from the corner.
        corner: Left and top of its label on the page.
        dot_mm: Side of a printer dot.
        correction: How the printer is off.
    """
    middle = (
        corner[0] + box.left_mm + box.width_mm / 2,
        corner[1] + box.top_mm + box.height_mm / 2,
    )
    x, y = correction.put(middle)
    left, top = (
        round((at - size / 2) / dot_mm) * dot_mm
        for at, size in ((x, box.width_mm), (y, box.height_mm))
    )
    return _box_data(left, top, box.width_mm, box.height_mm)


def _words_box(box: Box, corner: tuple[float, float], correction: Correction) -> Mapping[str, Data]:
    near = correction.put((corner[0] + box.left_mm, corner[1] + box.top_mm))
    far = correction.put(
        (corner[0] + box.left_mm + box.width_mm, corner[1] + box.top_mm + box.height_mm)
    )
    return _box_data(near[0], near[1], far[0] - near[0], far[1] - near[1])


def _box_data(left: float, top: float, width: float, height: float) -> Mapping[str, Data]:
    return {"left_mm": left, "top_mm": top, "width_mm": width, "height_mm": height}


def _in_rows(code: str, rows: int) -> tuple[str, ...]:
    middle = -(-len(code) // rows)
    return tuple(code[at : at + middle] for at in range(0, len(code), middle))
