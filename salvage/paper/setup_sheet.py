"""The setup sheet: what lies beside the machine while one board is cut."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from salvage.paper.card import format_checkpoint
from salvage.paper.stock import A4_MM
from salvage.paper.typeset import Data, typeset

if TYPE_CHECKING:
    from pathlib import Path


@dataclass(frozen=True, slots=True)
class SetupSheet:
    """
    What the sheet says.

    Args:
        code: The board's code.
        what: The board in words.
        workshop: Name of the workshop.
        side: ``Front`` or ``Back``: what lies up.
        size: The board's size and thickness in words.
        symbol_svg: QR code of the board.
        map_png: The board's map with the places to cut.
        pieces: Rows: reservation, shape, for whom, centre, turn.
        datum: Rows: name, x, y, hole.
        keep_outs: Rows: reason, lower left, upper right.
        hints: Hold-down hints, one sentence each.
        cautions: Rows: caution, number of its source in *sources*.
        dust: About how much dust it makes, and on what that rests; empty where nothing is known.
        limits: Rows: market, subject, limit, number of its source.
        sources: Sources of cautions, dust and limits, by number from 1.
        journal_count: Number of entries of the record when the sheet was made.
        journal_hash: Hash of the last of them.
    """

    code: str
    what: str
    workshop: str
    side: str
    size: str
    symbol_svg: str
    map_png: bytes
    pieces: tuple[tuple[str, ...], ...]
    datum: tuple[tuple[str, ...], ...]
    keep_outs: tuple[tuple[str, ...], ...]
    hints: tuple[str, ...]
    cautions: tuple[tuple[str, ...], ...]
    dust: str
    limits: tuple[tuple[str, ...], ...]
    sources: tuple[str, ...]
    journal_count: int
    journal_hash: str


def print_setup_sheet(
    sheet: SetupSheet, *, made_on: date, extra_fonts: Path | None = None
) -> bytes:
    """
    A PDF of the sheet on A4; long tables go on to further pages.

    Args:
        sheet: What it says.
        made_on: Date of the document.
        extra_fonts: Folder with more fonts.

    Raises:
        BadValue: If no font has one of the characters.
    """
    data: dict[str, Data] = {
        "page_mm": A4_MM,
        "code": sheet.code,
        "what": sheet.what,
        "workshop": sheet.workshop,
        "side": sheet.side,
        "size": sheet.size,
        "symbol": sheet.symbol_svg,
        "pieces": sheet.pieces,
        "datum": sheet.datum,
        "keep_outs": sheet.keep_outs,
        "hints": sheet.hints,
        "cautions": sheet.cautions,
        "dust": sheet.dust,
        "limits": sheet.limits,
        "sources": sheet.sources,
        "checkpoint": format_checkpoint(sheet.journal_count, sheet.journal_hash),
    }
    pictures = {"map.png": sheet.map_png}
    return typeset("setup_sheet", data, pictures=pictures, made_on=made_on, extra_fonts=extra_fonts)
