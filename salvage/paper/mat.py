"""A photo mat as a document: drawings in exact millimetres, one a page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from salvage.paper.typeset import Data, typeset

# The drawings name a generic font; a document holds only fonts that are shipped.
_GENERIC, _SHIPPED = 'font-family="sans-serif"', 'font-family="Noto Sans"'


@dataclass(frozen=True, slots=True)
class MatSheet:
    """
    One page.

    Args:
        svg: The drawing, as large as the page.
        width_mm, height_mm: Size of the page.
    """

    svg: str
    width_mm: float
    height_mm: float


def print_mat(sheets: Sequence[MatSheet], *, title: str, made_on: date) -> bytes:
    """
    A PDF of the mat: print it at 100 %, without fitting to the page.

    Args:
        sheets: Its pages.
        title: What it is.
        made_on: Date of the document.
    """
    pages: list[dict[str, Data]] = [
        {
            "svg": sheet.svg.replace(_GENERIC, _SHIPPED),
            "width_mm": sheet.width_mm,
            "height_mm": sheet.height_mm,
        }
        for sheet in sheets
    ]
    return typeset("mat", {"title": title, "sheets": pages}, pictures={}, made_on=made_on)
