"""
The papers of a recall: a list for the bench, and a notice for buyers and venues.

The notice is headed and worded after what the European Union asks of one (Regulation (EU) 2023/988,
article 36, from memory): what it is, how to know it, the danger without words that play it down,
what to do, whom to ask. Other places ask otherwise, and it says so.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from salvage.errors import BadValue
from salvage.paper.card import format_checkpoint
from salvage.paper.stock import A4_MM
from salvage.paper.typeset import Data, typeset

if TYPE_CHECKING:
    from pathlib import Path

DEFERENCE = (
    "This notice is the workshop's own. The rules of your product-safety authority come first; they"
    " may ask more of us, and give you more rights, than this page says."
)
"""What every notice says of itself."""

USUAL_TO_DO = (
    "Stop wearing or using it now. Keep it away from children. Do not give it away, sell it or"
    " throw it out. Bring it back or write to us with the code on its card or label; we will say"
    " what we do about it, and what you get for it."
)
"""What a buyer is to do where the workshop says nothing else."""


@dataclass(frozen=True, slots=True)
class RecallList:
    """
    What the list for the bench says.

    Args:
        code: The recall's code.
        symbol_svg: QR code of it.
        workshop: Name of the workshop.
        subject: Where the trouble starts, in words.
        reason: What it is.
        learned_on: When it became known, in words.
        clocks: What runs from then, one sentence each, with its source.
        groups: Title of each place, and rows: code, what, where, how it was settled.
        unknown: Rows: code, what is not known of it.
        journal_count: Number of entries of the record when the list was made.
        journal_hash: Hash of the last of them.
    """

    code: str
    symbol_svg: str
    workshop: str
    subject: str
    reason: str
    learned_on: str
    clocks: tuple[str, ...]
    groups: tuple[tuple[str, tuple[tuple[str, ...], ...]], ...]
    unknown: tuple[tuple[str, ...], ...]
    journal_count: int
    journal_hash: str


@dataclass(frozen=True, slots=True)
class RecallNotice:
    """
    What the notice says.

    Args:
        code: The recall's code.
        workshop: Name of the workshop.
        place: Where it is; may be empty.
        contact: How to reach it; may be empty.
        web_address: Its address for people; may be empty.
        reason: The danger.
        to_do: What to do about it.
        venue: For whom the notice is, if for one venue; empty for all buyers.
        pieces: Rows: code, what, where and when it was sold.
    """

    code: str
    workshop: str
    place: str
    contact: str
    web_address: str
    reason: str
    to_do: str
    venue: str
    pieces: tuple[tuple[str, ...], ...]


def print_recall_list(
    sheet: RecallList, *, made_on: date, extra_fonts: Path | None = None
) -> bytes:
    """
    A PDF of the list on A4, with a box to tick for each thing.

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
        "symbol": sheet.symbol_svg,
        "workshop": sheet.workshop,
        "subject": sheet.subject,
        "reason": sheet.reason,
        "learned_on": sheet.learned_on,
        "clocks": sheet.clocks,
        "groups": [{"title": title, "rows": rows} for title, rows in sheet.groups],
        "unknown": sheet.unknown,
        "checkpoint": format_checkpoint(sheet.journal_count, sheet.journal_hash),
    }
    return typeset("recall_list", data, pictures={}, made_on=made_on, extra_fonts=extra_fonts)


def print_recall_notice(
    notice: RecallNotice, *, made_on: date, extra_fonts: Path | None = None
) -> bytes:
    """
    A PDF of the notice on A4.

    Args:
        notice: What it says.
        made_on: Date of the document.
        extra_fonts: Folder with more fonts.

    Raises:
        BadValue: If it names no piece, or no font has one of the characters.
    """
    if not notice.pieces:
        raise BadValue("a notice without a piece tells nobody anything")
    data: dict[str, Data] = {
        "page_mm": A4_MM,
        "code": notice.code,
        "workshop": notice.workshop,
        "place": notice.place,
        "contact": notice.contact,
        "web_address": notice.web_address,
        "reason": notice.reason,
        "to_do": notice.to_do or USUAL_TO_DO,
        "venue": notice.venue,
        "pieces": notice.pieces,
        "deference": DEFERENCE,
    }
    return typeset("recall_notice", data, pictures={}, made_on=made_on, extra_fonts=extra_fonts)
