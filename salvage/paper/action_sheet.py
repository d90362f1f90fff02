"""The sheet of action codes for the bench: scan what to do instead of typing it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from math import floor
from typing import TYPE_CHECKING

from salvage.errors import BadValue
from salvage.paper.correction import TRUE, Correction
from salvage.paper.label_page import symbol_box_data
from salvage.paper.picture import svg_modules
from salvage.paper.placing import LEAST_BAR_MM, LEAST_MODULE_MM, Box, is_bars
from salvage.paper.typeset import Data, typeset

if TYPE_CHECKING:
    from pathlib import Path

_ACROSS = 5
_SIDE_MM, _TOP_MM, _BOTTOM_MM = 12.0, 34.0, 12.0
_HEADING_MM = 7.0
_WORDS_MM = 13.5  # under each symbol: what it does, a hint, its code
_BETWEEN_MM = 4.0  # so that a reader held over one symbol does not see the next


@dataclass(frozen=True, slots=True)
class ActionCode:
    """
    One action as it is printed.

    Args:
        code: Its code in characters.
        words: What it does.
        hint: More about it, in small type; empty for none.
        symbol_svg: Its symbol, with a ``viewBox`` in modules, quiet zone included.
    """

    code: str
    words: str
    hint: str
    symbol_svg: str


@dataclass(frozen=True, slots=True)
class Section:
    """
    A group of actions under a heading.

    Args:
        heading: A few words.
        actions: In order, along the rows.
    """

    heading: str
    actions: tuple[ActionCode, ...]

    @property
    def rows(self) -> int:
        """Rows that its actions take."""
        return -(-len(self.actions) // _ACROSS)


@dataclass(frozen=True, slots=True)
class SheetPaper:
    """
    What the sheet is printed on and with.

    Args:
        page_mm: Width and height.
        dot_mm: Side of a printer dot, so that modules are whole dots.
        correction: How the printer is off.
    """

    page_mm: tuple[float, float]
    dot_mm: float = 0.125
    correction: Correction = TRUE


def print_action_sheet(
    sections: Sequence[Section],
    paper: SheetPaper,
    *,
    workshop: str,
    made_on: date,
    extra_fonts: Path | None = None,
) -> bytes:
    """
    One page of large symbols with plain words under them.

    Args:
        sections: All of them on the one page.
        paper: Page and printer.
        workshop: Name of the workshop.
        made_on: Date of the document.
        extra_fonts: Folder with more fonts.

    Raises:
        BadValue: If the page is too small for the symbols.
        NoGlyph: If no font has a character of the workshop's name.
    """
    width, height = paper.page_mm
    rows = sum(section.rows for section in sections)
    free = height - _TOP_MM - _BOTTOM_MM - _HEADING_MM * len(sections)
    cell = ((width - 2 * _SIDE_MM) / _ACROSS, free / rows)
    drawn: list[Data] = []
    top = _TOP_MM
    for section in sections:
        first = top + _HEADING_MM
        actions: list[Data] = []
        for place, action in enumerate(section.actions):
            row, column = divmod(place, _ACROSS)
            corner = (_SIDE_MM + column * cell[0], first + row * cell[1])
            actions.append(_action_data(action, corner, cell, paper))
        drawn.append({"words": section.heading, "top_mm": top, "actions": actions})
        top = first + section.rows * cell[1]
    data: dict[str, Data] = {
        "page_mm": paper.page_mm,
        "side_mm": _SIDE_MM,
        "words_mm": _WORDS_MM,
        "workshop": workshop,
        "sections": drawn,
    }
    return typeset("action_sheet", data, pictures={}, made_on=made_on, extra_fonts=extra_fonts)


def _action_data(
    action: ActionCode, corner: tuple[float, float], cell: tuple[float, float], paper: SheetPaper
) -> dict[str, Data]:
    modules = svg_modules(action.symbol_svg)
    room = (cell[0] - _BETWEEN_MM, cell[1] - _WORDS_MM)
    dots = floor(min(room[0] / modules[0], room[1] / modules[1]) / paper.dot_mm + 1e-9)
    module = dots * paper.dot_mm
    if module < (LEAST_BAR_MM if is_bars(modules) else LEAST_MODULE_MM):
        raise BadValue("the page is too small for the action codes", hint="use a4 or letter")
    wide, tall = modules[0] * module, modules[1] * module
    box = Box((cell[0] - wide) / 2, 0.0, wide, tall)
    words = paper.correction.put((corner[0], corner[1] + tall))
    return {
        "symbol": action.symbol_svg,
        "symbol_box": symbol_box_data(box, corner, paper.dot_mm, paper.correction),
        "words_at": words,
        "width_mm": cell[0],
        "words": action.words,
        "hint": action.hint,
        "code": action.code,
    }
