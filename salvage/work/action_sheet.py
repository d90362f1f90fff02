"""The printed sheet of action codes, ready for the wall behind the bench."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.errors import BadValue
from salvage.records.actions import ACTIONS, Action
from salvage.records.printer import Printer
from salvage.work.label_symbols import draw_symbol
from salvage.work.papers import fonts_of
from salvage.work.printers import correction_for
from salvage.work.workshop import Workshop

if TYPE_CHECKING:
    from salvage.paper.action_sheet import ActionCode

_HEADINGS = {
    "": "Do",
    "stage": "Stage of a piece",
    "quantity": "How many",
    "side": "Which side a photo shows: cut these out",
}


def print_actions(
    shop: Workshop, *, paper: str = "a4", symbol: str = "", printer: Printer | None = None
) -> bytes:
    """
    One page with the codes of all actions, as PDF.

    Args:
        shop: The open workshop.
        paper: ``a4`` or ``letter``.
        symbol: One of :data:`salvage.work.label_symbols.SYMBOLS`; empty for a QR code.
        printer: Its readings put the page right.

    Raises:
        BadValue: If the paper is not known.
    """
    from salvage.paper.action_sheet import Section, SheetPaper, print_action_sheet
    from salvage.paper.sheet import PAPERS
    from salvage.paper.stock import roll

    page_mm = PAPERS.get(paper.strip().lower())
    if page_mm is None:
        raise BadValue(
            f"the action sheet does not come on '{paper}'", hint="use a4 or letter", field="--paper"
        )
    sections = tuple(
        Section(
            heading, tuple(_code(action, symbol) for action in ACTIONS if _part(action) == part)
        )
        for part, heading in _HEADINGS.items()
    )
    dot_mm = roll(50, 25, dpi=printer.dpi if printer else 203).dot_mm
    return print_action_sheet(
        sections,
        SheetPaper(page_mm, dot_mm, correction_for(printer)),
        workshop=shop.settings.name,
        made_on=shop.today,
        extra_fonts=fonts_of(shop),
    )


def _part(action: Action) -> str:
    return action.verb if action.verb in _HEADINGS else ""


def _code(action: Action, symbol: str) -> ActionCode:
    from salvage.codes.draw import symbol_svg
    from salvage.paper.action_sheet import ActionCode

    drawn = draw_symbol(symbol or "qr", action.code)
    return ActionCode(action.code, action.words, action.hint, symbol_svg(drawn))
